#include "moment.h"

#include <time.h>

enum unit { YEAR, DAY, NONE };

static const struct {
	const char *form;
	enum unit unit;
} forms[] = {
    {"%Y-%m-%dT%H:%M:%S", NONE},
    {"%Y-%m-%d %H:%M:%S", NONE},
    {"%Y-%m-%dT%H:%M", NONE},
    {"%Y-%m-%d %H:%M", NONE},
    {"%Y-%m-%d", DAY},
    {"%Y", YEAR},
};

int moment_read(const char *s, bool end, long long *out)
{
	for (size_t i = 0; i < sizeof(forms) / sizeof(forms[0]); i++) {
		struct tm tm = {.tm_mday = 1}, real;
		const char *rest = strptime(s, forms[i].form, &tm);
		time_t t;

		if (!rest || *rest)
			continue;
		real = tm;
		timegm(&real); /* puts the 30th of February right */
		if (real.tm_mday != tm.tm_mday)
			return -1;
		tm.tm_mday += end && forms[i].unit == DAY;
		tm.tm_year += end && forms[i].unit == YEAR;
		tm.tm_isdst = -1;
		t = mktime(&tm);
		*out = (long long)t;
		return t == -1 ? -1 : 0;
	}
	return -1;
}
