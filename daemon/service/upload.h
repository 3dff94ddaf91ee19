/* Programs that come in over the API, byte for byte, straight into the vault. */
#ifndef UPLOAD_H
#define UPLOAD_H

#include "inside.h"

extern const struct api_take upload_take;

/* POST /v1/programs: keep what came. */
void upload_keep(void *service, const struct api_call *call, struct api_reply *reply);

#endif
