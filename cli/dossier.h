/*
 * What the service knows of one job, gathered at one moment: everything up to a certain entry of the
 * trail, and nothing behind it. The answers of the API are kept as they came.
 */
#ifndef DOSSIER_H
#define DOSSIER_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include "yoke/limits.h"

/* A program that some entry names. */
struct dossier_program {
	char sha256[YOKE_SHA_HEX + 1];
	json_int_t size;     /* bytes; -1: no entry says it */
	const json_t *first; /* the entry that names it first */
	const char *channel; /* there */
};

/* Zero-initialise; free with dossier_free whatever dossier_read said. */
struct dossier {
	json_t *pairs;    /* as GET /v1/jobs/JOB has them */
	json_t *machines; /* as GET /v1/machines has them */
	json_t *status;   /* GET /v1/status */
	json_t *head;     /* the newest entry of the whole trail; NULL while it has none */
	json_t *trail; /* how the trail is sealed, as GET /v1/keys has it */
	char *checkpoint; /* the newest signed checkpoint as it stands in the vault; NULL: there is none */
	json_t *general; /* entries that bear on the whole trail: its keys, repairs, the clock */
	/* Oldest first, each once: every entry that names the job, and every one that tells of
	   another content where one of its programs was carried. */
	json_t *events;
	struct dossier_program *program; /* in the order in which they are named */
	size_t programs;
};

/* Fill it. The exit status; what went wrong was said on stderr. */
int dossier_read(struct dossier *d, const char *job);
void dossier_free(struct dossier *d);

/* The program's place in d->program; d->programs when no entry names it. */
size_t dossier_find(const struct dossier *d, const char *sha256);

/* Whether the entry belongs to an order that is for this job: one whose "queued" is there. */
bool dossier_in_order(const struct dossier *d, const json_t *event);

#endif
