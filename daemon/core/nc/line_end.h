/* Where a line ends. */
#ifndef NC_LINE_END_H
#define NC_LINE_END_H

/*
 * The first CR or LF in [p, stop), or stop. Looks no further than twice the line's length, and a
 * few hundred bytes: a text with one kind of end does not pay for the search of the other.
 */
const char *line_end_find(const char *p, const char *stop);

#endif
