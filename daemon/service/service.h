/* The service as a whole: the one folder that knows all the others. */
#ifndef SERVICE_H
#define SERVICE_H

#include "conf.h"

struct service;

/*
 * Run the service with this configuration until SIGTERM or SIGINT. carrier: path of yoke-carrier. 0
 * after an orderly end; -1 with the reason on stderr.
 */
int service_run(const struct conf *conf, const char *carrier);

#endif
