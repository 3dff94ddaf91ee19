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
	CURLM *(*multi_init)(void);
	CURLMcode (*multi_add_handle)(CURLM *, CURL *);
	CURLMcode (*multi_remove_handle)(CURLM *, CURL *);
	CURLMcode (*multi_perform)(CURLM *, int *);
	CURLMcode (*multi_fdset)(CURLM *, fd_set *, fd_set *, fd_set *, int *);
	CURLMcode (*multi_poll)(CURLM *, struct curl_waitfd *, unsigned, int, int *);
	struct CURLMsg *(*multi_info_read)(CURLM *, int *);
	CURLMcode (*multi_cleanup)(CURLM *);
};

/* The functions, or NULL when the library is not installed. Kept until the process ends. */
const struct curl_lib *curl_lib(void);

#endif
