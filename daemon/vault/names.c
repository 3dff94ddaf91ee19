#include "vault.h"

const char *vault_content_name(enum vault_content c)
{
	static const char *const name[] = {"nothing", "loaded", "split", "unknown"};

	return (unsigned)c < sizeof(name) / sizeof(name[0]) ? name[c] : "?";
}

const char *vault_order_state_name(enum vault_order_state s)
{
	static const char *const name[] = {"queued", "carrying", "done", "failed", "cancelled"};

	return (unsigned)s < sizeof(name) / sizeof(name[0]) ? name[s] : "?";
}

const char *vault_pair_state_name(enum vault_pair_state s)
{
	static const char *const name[] = {"held", "released", "withdrawn"};

	return (unsigned)s < sizeof(name) / sizeof(name[0]) ? name[s] : "?";
}
