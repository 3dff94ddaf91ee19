/* A folder on a file server, reached by FTP, FTPS or SFTP (remote_session.h), as a folder. */
#ifndef REMOTE_H
#define REMOTE_H

#include "folder.h"

/*
 * As folder_open() says: logs in, looks for the marker and at the folder. Folders of one order at one
 * server have one session. NULL with the fault set: OFFLINE, MARKER, NAME, or what the server says.
 */
struct folder *remote_open(const struct line *line, uint32_t item, struct folder_order *order,
    struct folder *const *others, uint32_t n, struct fault *fault);

#endif
