/*
 * Goal: whatever stands in a file that is said to be a proof, a note, a public key or a private one,
 * reading it ends, reads nothing beyond it, and takes nothing that would be written otherwise. A proof is
 * good only for the key that signed it: none of these inputs knows it, but the corpus has one that does.
 */
#include <stdlib.h>
#include <string.h>
#include "input.h"
#include "proof.h"

/* The public key of the corpus: the first of RFC 8032 section 7.1. */
static const struct note_key key = {"yoke/21fe31dfa154a261",
    {0xd7, 0x5a, 0x98, 0x01, 0x82, 0xb1, 0x0a, 0xb7, 0xd5, 0x4b, 0xfe, 0xd3, 0xc9, 0x64, 0x07, 0x3a, 0x0e,
        0xe1, 0x72, 0xf3, 0xda, 0xa6, 0x23, 0x25, 0xaf, 0x02, 0x1a, 0x68, 0xf7, 0x07, 0x51, 0x1a}};

static void check_proof(const char *s, size_t n)
{
	char why[200] = "";
	struct proof p;
	bool good = proof_check(s, n, &key, 1, &p, why, sizeof(why));

	must(good == !*why);
	if (good)
		must(p.leaf.seq > 0 && p.leaf.seq <= p.checkpoint.size &&
		     strcmp(p.key.name, p.checkpoint.origin) == 0);
	proof_free(&p);
}

static void check_notes(const char *s, size_t n)
{
	struct note note;
	struct checkpoint c;
	struct text again = {0};
	size_t took;

	while (n > 0) {
		took = note_take(s, n, &note);
		must(took <= n);
		if (took > 0) {
			must(note.text_n > 0 && note.text_n + 1 + note.signatures_n == took);
			note_check(&note, &key);
			if (checkpoint_read(note.text, note.text_n, &c)) {
				checkpoint_write(&c, &again);
				must(again.n == note.text_n && !memcmp(again.s, note.text, again.n));
				text_free(&again);
			}
		}
		took += took == 0;
		s += took;
		n -= took;
	}
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	const char *s = (const char *)data;
	char text[NOTE_KEY_MAX + 1];
	struct note_key k;
	struct leaf leaf;

	check_proof(s, size);
	if (size <= 8192)
		check_notes(s, size);
	leaf_read(data, size, &leaf);
	if (note_key_read(s, size, &k)) {
		note_key_write(&k, text);
		must(strlen(text) == size && !memcmp(text, s, size));
	}
	ed25519_free(ed25519_read(s, size));
	return 0;
}
