#include "secret_place.h"

#include <string.h>

bool secret_place_read(const char *text, struct secret_place *out)
{
	static const char credential[] = "credential:", file[] = "file:/";
	size_t n;

	if (!strncmp(text, file, sizeof(file) - 1)) {
		*out = (struct secret_place){SECRET_FILE, text + sizeof(file) - 2};
		return out->name[1] != '\0';
	}
	if (strncmp(text, credential, sizeof(credential) - 1) != 0)
		return false;
	*out = (struct secret_place){SECRET_CREDENTIAL, text + sizeof(credential) - 1};
	n = strspn(out->name,
	    "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_.");
	return n && out->name[n] == '\0' && out->name[0] != '.';
}
