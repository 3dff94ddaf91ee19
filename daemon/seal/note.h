/*
 * Signed notes, after the open specification "signed note" of C2SP (c2sp.org/signed-note, from memory;
 * tests/peers/trail.sh has it read by golang.org/x/mod/sumdb/note), so that tools of others can check ours:
 *
 *   TEXT                        lines; each ends with a line end, the text holds no empty one
 *   (an empty line)
 *   — NAME BASE64               for each signature: an em dash, the key's name, and in base64 its id
 *                               (4 bytes) and the Ed25519 signature (64 bytes) over TEXT
 *
 * A public key is told as NAME+ID+BASE64: the id in 8 hexadecimal digits, the first 4 bytes of
 * SHA-256(NAME || 0a || 01 || public key); in base64 one byte 01 (Ed25519) and the public key.
 */
#ifndef SEAL_NOTE_H
#define SEAL_NOTE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "ed25519.h"
#include "yoke/text.h"

enum {
	NOTE_NAME_MAX = 64, /* bytes of a key's name: printable ASCII, no blank, no plus */
	NOTE_KEY_MAX = NOTE_NAME_MAX + 1 + 8 + 1 + 44, /* of a public key as text */
	NOTE_MAX = 4096,       /* of a whole note */
	NOTE_SIGNATURES = 8,   /* in one note */
};

/* A public key with its name. */
struct note_key {
	char name[NOTE_NAME_MAX + 1];
	uint8_t public[ED25519_PUBLIC];
};

/* Its id; 0 when libcrypto fails. */
uint32_t note_key_id(const struct note_key *k);

/* Write it as NAME+ID+BASE64 into out. */
void note_key_write(const struct note_key *k, char out[NOTE_KEY_MAX + 1]);

/* Read it from n characters. False when they are none, or the id is not the key's. */
bool note_key_read(const char *s, size_t n, struct note_key *out);

/*
 * Sign: when note is empty, text (with its last line end) is put there first; then the signature is
 * appended. k is the public half of private. 0, or -1: libcrypto failed, the text cannot be that of a
 * note, or no memory.
 */
int note_sign(struct text *note, const char *text, const struct note_key *k,
    const struct ed25519 *private);

/* A note in what somebody wrote; nothing is owned. */
struct note {
	const char *text;
	size_t text_n; /* with its last line end */
	const char *signatures;
	size_t signatures_n;
};

/*
 * Take the note that stands at the front of n bytes; what follows its last signature is no part of it.
 * Returns how many bytes it takes, or 0 when there is none: its form is checked, no signature is.
 */
size_t note_take(const char *s, size_t n, struct note *out);

enum note_result {
	NOTE_GOOD = 0,
	NOTE_OTHER_KEY, /* no signature of this key is there */
	NOTE_FORGED,    /* one is, and it does not fit */
};

/* Whether this key signed the note. */
enum note_result note_check(const struct note *note, const struct note_key *k);

#endif
