/* Bounds that both programs share. */
#ifndef YOKE_LIMITS_H
#define YOKE_LIMITS_H

enum {
	YOKE_CHANNELS_MAX = 4, /* channels of one machine */
	YOKE_NAME_MAX = 64,    /* machine, job, revision, channel: bytes without the NUL */
	YOKE_PATH_MAX = 1024,  /* one path in a configuration, bytes without the NUL */
	YOKE_SHA_SIZE = 32,    /* SHA-256, bytes */
	YOKE_SHA_HEX = 64,     /* SHA-256 in lower-case hexadecimal, without the NUL */
};

/* The largest program that is read, in bytes (design, part 4). */
#define YOKE_PROGRAM_MAX ((unsigned long long)1 << 30)

#endif
