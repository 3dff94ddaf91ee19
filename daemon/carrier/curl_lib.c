#include "curl_lib.h"

#include <dlfcn.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

static struct curl_lib lib;
static CURLcode (*global_init)(long);

static const struct {
	const char *name;
	void *to;
} wanted[] = {
    {"curl_global_init", &global_init},
    {"curl_easy_init", &lib.init},
    {"curl_easy_setopt", &lib.setopt},
    {"curl_easy_perform", &lib.perform},
    {"curl_easy_getinfo", &lib.getinfo},
    {"curl_easy_reset", &lib.reset},
    {"curl_easy_cleanup", &lib.cleanup},
    {"curl_easy_strerror", &lib.strerror},
    {"curl_slist_append", &lib.slist_append},
    {"curl_slist_free_all", &lib.slist_free},
    {"curl_multi_init", &lib.multi_init},
    {"curl_multi_add_handle", &lib.multi_add_handle},
    {"curl_multi_remove_handle", &lib.multi_remove_handle},
    {"curl_multi_perform", &lib.multi_perform},
    {"curl_multi_fdset", &lib.multi_fdset},
    {"curl_multi_poll", &lib.multi_poll},
    {"curl_multi_info_read", &lib.multi_info_read},
    {"curl_multi_cleanup", &lib.multi_cleanup},
};

static bool load(void *handle)
{
	for (size_t i = 0; handle && i < sizeof wanted / sizeof *wanted; i++) {
		void *symbol = dlsym(handle, wanted[i].name);

		if (!symbol)
			return false;
		/* ISO C has no conversion between pointers to objects and to functions. */
		memcpy(wanted[i].to, &symbol, sizeof symbol);
	}
	return handle && global_init(CURL_GLOBAL_DEFAULT) == CURLE_OK;
}

const struct curl_lib *curl_lib(void)
{
	static bool tried, loaded;

	/* libcurl and its TLS library would write down there what opens every connection. */
	unsetenv("SSLKEYLOGFILE");
	if (!tried)
		loaded = load(dlopen("libcurl.so.4", RTLD_NOW));
	tried = true;
	return loaded ? &lib : NULL;
}
