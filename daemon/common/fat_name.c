#include "fat_name.h"

#include <string.h>
#include <strings.h>

enum { LONG_MAX_BYTES = 255, PATH_MAX_BYTES = 255, STEM = 8, EXTENSION = 3 };

static bool reserved(const char *name)
{
	static const char *const devices[] = {"CON", "PRN", "AUX", "NUL"};
	size_t n = strcspn(name, ".");

	for (size_t i = 0; n == 3 && i < sizeof(devices) / sizeof(devices[0]); i++)
		if (strncasecmp(name, devices[i], 3) == 0)
			return true;
	return n == 4 && name[3] >= '1' && name[3] <= '9' &&
	       (strncasecmp(name, "COM", 3) == 0 || strncasecmp(name, "LPT", 3) == 0);
}

static bool short_character(char c)
{
	return (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || strchr("$%'-_@~`!(){}^#&", c);
}

static const char *short_fault(const char *name)
{
	const char *point = strchr(name, '.');
	size_t stem = point ? (size_t)(point - name) : strlen(name);

	if (stem == 0 || stem > STEM || (point && (!point[1] || strlen(point + 1) > EXTENSION)))
		return "is no 8.3 name: up to 8 characters, a point, and up to 3";
	for (const char *s = name; *s; s++)
		if (s != point && !short_character(*s))
			return "is no 8.3 name: letters in upper case, digits and "
			       "$%'-_@~`!(){}^#& make one";
	return NULL;
}

const char *fat_name_fault(const char *name, bool eight_three)
{
	size_t n = strlen(name);

	if (n == 0)
		return "is empty";
	if (n > LONG_MAX_BYTES)
		return "has more than 255 characters";
	for (const char *s = name; *s; s++) {
		if ((unsigned char)*s < 0x20 || (unsigned char)*s >= 0x7f)
			return "holds a character that is not printable ASCII";
		if (strchr("\"*/:<>?\\|", *s))
			return "holds one of \" * / : < > ? \\ |, which FAT does not take";
	}
	if (name[0] == ' ' || name[n - 1] == ' ' || name[n - 1] == '.')
		return "begins with a blank, or ends with a blank or a point, which FAT drops";
	if (reserved(name))
		return "is the name of a device to some computers";
	return eight_three ? short_fault(name) : NULL;
}

const char *fat_name_path_fault(const char *path, bool eight_three)
{
	char name[LONG_MAX_BYTES + 1];
	const char *fault = NULL;

	if (strlen(path) > PATH_MAX_BYTES)
		return "has more than 255 characters";
	while (*path && !fault) {
		size_t n = strcspn(path, "/");

		memcpy(name, path, n);
		name[n] = '\0';
		fault = fat_name_fault(name, eight_three);
		path += n;
		if (*path == '/' && !*++path)
			fault = "ends with /";
	}
	return fault;
}

void fat_name_upper(char *name)
{
	for (; *name; name++)
		if (*name >= 'a' && *name <= 'z')
			*name = (char)(*name - 'a' + 'A');
}

bool fat_name_same(const char *a, const char *b)
{
	return strcasecmp(a, b) == 0;
}
