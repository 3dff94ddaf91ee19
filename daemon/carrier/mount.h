/* A folder of a share that is mounted here, or of a local directory: place.h and file.h as a folder. */
#ifndef MOUNT_H
#define MOUNT_H

#include "folder.h"

/*
 * As folder_open() says. A folder that one of the others is already is used again; any other is
 * locked against other carriers (BUSY).
 */
struct folder *mount_open(const struct line *line, uint32_t item, struct folder_order *order,
    struct folder *const *others, uint32_t n, struct fault *fault);

#endif
