/*
 * Where a secret lies. A configuration names the place, never the secret itself:
 *
 *   credential:NAME   a file in the folder that $CREDENTIALS_DIRECTORY names, as systemd makes it
 *                     (LoadCredential=, LoadCredentialEncrypted=)
 *   file:/PATH        a file that belongs to the service and that nobody else may read
 */
#ifndef SECRET_PLACE_H
#define SECRET_PLACE_H

#include <stdbool.h>

enum secret_kind { SECRET_CREDENTIAL = 1, SECRET_FILE };

struct secret_place {
	enum secret_kind kind;
	const char *name; /* of the credential, or the absolute path; points into what was read */
};

/* Read a place. False when it is none of these. */
bool secret_place_read(const char *text, struct secret_place *out);

#endif
