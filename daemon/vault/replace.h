/* A new vault in place of the one that is there. Inside the vault only. */
#ifndef VAULT_REPLACE_H
#define VAULT_REPLACE_H

#include "endnote.h"
#include "rescue.h"

/* PATH.new into out, and nothing left there of an earlier try. 0; -1 told through held. */
int replace_begin(struct vault *held, char out[RESCUE_PATH]);

/* Give up: remove PATH.new and what belongs to it. */
void replace_undo(const char *new);

/*
 * Put PATH.new, a closed vault whose trail ends so, in place of the vault whose lock is held; what is there
 * is moved to PATH.WORD-TIME first, with a number behind it where that is taken, and with its log and
 * note. aside: where, "" when there was nothing. At each moment either the old vault is there, or the new
 * one, or a start refuses and the old one is whole aside. 0; -1 told through held.
 */
int replace_end(struct vault *held, const char *new, const struct endnote *end, const char *word,
    int64_t utc_us, char aside[RESCUE_PATH]);

/* Flush the folder that a path is in. 0, -1 with errno. */
int replace_sync(const char *path);

#endif
