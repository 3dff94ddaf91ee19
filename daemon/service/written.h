/*
 * What lies on a share for a program of the vault: the same text, with the line ends and under the name that
 * the machine wants. The vault, and the parts of every event, name the program as it was released. What
 * an order wrote for it stands in the detail of two events, where it begins (carrying) and where it ends:
 *
 *   {"channels": [{"channel", "name", "place", "program", "written", "before", "expected"}]}
 *
 * place: of an order that begins, the share's folder (conf_line_place). program is written as written, and what the machine was known to hold, before, lay there as expected; sums
 * that are equal are left out. So a setting that is changed later changes nothing of what is known.
 */
#ifndef WRITTEN_H
#define WRITTEN_H

#include "inside.h"

/* Put one channel into a JSON object. program and before: NULL when the order has none. */
void written_put(json_t *channel, const struct carry_item *item, const struct sha *program,
    const struct sha *before);

/* For the event that begins an order, after outcome_reset; the caller frees. NULL when there is nothing to
 * say, or no memory. */
char *written_begin(const struct service_machine *m, const struct carry_order *order);

/* Add sums that differ to detail, which is JSON, or NULL, and is freed: what came in the course of order. The
 * caller frees what is returned. */
char *written_tell(
    char *detail, const struct service_machine *m, const struct carry_order *order);

/*
 * What is expected on the share, for the items that expect a program of the vault: what the last order
 * that changed the machine wrote for it. When that has another name than is made for it now, an order that
 * brings it goes by that name, and one that replaces it expects nothing under its own.
 */
void written_expect(struct service *s, struct carry_order *order);

/* The names and sums with which the order o was begun, for a look at what became of it. False when the machine's
 * lines lead elsewhere by now: what lies there says nothing of that order. */
bool written_begun(struct service *s, const struct vault_order *o, struct carry_order *order);

/* The program of the vault that these bytes of item i are with other line ends; sha itself when they are
 * neither what the machine's order writes nor what it expects. */
const struct sha *written_program(const struct service_machine *m, const struct carry_order *order,
    uint32_t i, const struct sha *sha);

#endif
