/*
 * libcurl, loaded by name when it is first needed: it pulls in some twenty libraries, ten milliseconds
 * of a start that carriers over other lines shall not pay.
 */
#ifndef CURL_LIB_H
#define CURL_LIB_H

#include <curl/curl.h>
#include <stdbool.h>

struct curl_lib {
	CURL *(*init)(void);
	CURLcode (*setopt)(CURL *, CURLoption, ...);
	CURLcode (*perform)(CURL *);
	CURLcode (*getinfo)(CURL *, CURLINFO, ...);
	void (*reset)(CURL *);
	void (*cleanup)(CURL *);
	const char *(*strerror)(CURLcode);
	struct curl_slist *(*slist_append)(struct curl_slist *, const char *);
	void (*slist_free)(struct curl_slist *);
};

/* The functions, or NULL when the library is not installed. Kept until the process ends. */
const struct curl_lib *curl_lib(void);

#endif
