/* `yoke audit prove` and `yoke audit check-proof`. */
#ifndef AUDIT_PROOF_H
#define AUDIT_PROOF_H

/* Ask for the proof of an entry and write it to a new file, or to stdout (out NULL). An exit status. */
int audit_prove(const char *seq, const char *out);

/* Check a proof ("-": standard input) with keys (trail_keys.h), without any service. An exit status. */
int audit_check_proof(const char *file, const char *key);

#endif
