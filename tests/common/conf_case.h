/* A machine's configuration as a test writes it, and what is told of it. */
#ifndef CONF_CASE_H
#define CONF_CASE_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include "conf.h"
#include "scratch.h"

extern struct conf_machine machine; /* the one that was read last */
extern struct conf conf;            /* the home that was read last; freed by the next */
extern struct conf_report report;

/* The report says so; the test fails otherwise. */
void expect(const char *message);

/* Read content as LATHE-1.conf: so many errors. */
void read_machine(void **state, const char *content, size_t errors);

/* Read a home with this yoke.conf and machines one and two, NULL: not there. What it returns fits the report. */
void read_home(void **state, const char *yoke, const char *one, const char *two);

#endif
