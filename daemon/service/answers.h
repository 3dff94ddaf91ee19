/* Which function answers which verb of the API. Called through rights.h alone. */
#ifndef ANSWERS_H
#define ANSWERS_H

#include "inside.h"

extern api_fn *const answers[API_COUNT];

#endif
