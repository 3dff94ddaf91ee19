/* What transactions tell the open stages. Inside the vault only. */
#ifndef VAULT_STAGE_H
#define VAULT_STAGE_H

struct vault;

/* The outermost transaction was rolled back: a stage whose piece was written inside it has lost
 * that piece. */
void stage_undone(struct vault *v);

/* The outermost transaction was committed. */
void stage_done(struct vault *v);

/* The vault is being closed: later calls on its stages fail in words. */
void stage_orphan(struct vault *v);

/* Remove what kills and failures have left of stages that nobody holds. 0; -1 failed, told. */
int stage_sweep(struct vault *v);

#endif
