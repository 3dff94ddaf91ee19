/* What the command's exit status means. The README and `yoke help` list the same. */
#ifndef EXIT_H
#define EXIT_H

enum {
	EXIT_DONE = 0,        /* done; for a check: no refusal */
	EXIT_REFUSED = 1,     /* the check refuses, the service refuses, or two programs differ */
	EXIT_USE = 2,         /* wrong use, or a file that cannot be read */
	EXIT_CANNOT_TELL = 3, /* the order of blocks could not be followed: nobody knows yet */
	EXIT_SERVICE = 4,     /* the service cannot be reached or could not do it */
};

#endif
