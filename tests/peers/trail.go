// Others' reading of the sealed trail: signed notes, public keys and the tree by golang.org/x/mod/sumdb, which the
// Go project reads its own checksum database with.
//
//	trail KEYS NOTES PROOF...   every note of the file must open with one of the keys, sizes must grow, and every
//	                            proof's entry must be in the tree of its checkpoint
package main

import (
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"os"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

func die(format string, values ...interface{}) {
	fmt.Printf(format+"\n", values...)
	os.Exit(1)
}

func read(name string) string {
	data, err := os.ReadFile(name)
	if err != nil {
		die("%v", err)
	}
	return string(data)
}

func hash(text string) (h tlog.Hash) {
	raw, err := base64.StdEncoding.DecodeString(text)
	if err != nil || len(raw) != len(h) {
		die("%q is no hash", text)
	}
	copy(h[:], raw)
	return h
}

// open checks a note's signatures and reads the size and root of its checkpoint, by the lines of C2SP tlog-checkpoint.
func open(text string, keys note.Verifiers) (size int64, root tlog.Hash, signatures int) {
	n, err := note.Open([]byte(text), keys)
	if err != nil {
		die("a note does not open: %v\n%s", err, text)
	}
	if len(n.UnverifiedSigs) > 0 {
		die("a signature is of no key that was given:\n%s", text)
	}
	lines := strings.Split(n.Text, "\n")
	if len(lines) < 4 || lines[0] != n.Sigs[0].Name {
		die("this is no checkpoint of the key's trail:\n%s", text)
	}
	size, err = strconv.ParseInt(lines[1], 10, 64)
	if err != nil {
		die("%v", err)
	}
	return size, hash(lines[2]), len(n.Sigs)
}

func check(name string, keys note.Verifiers) {
	parts := strings.SplitN(read(name), "\n\n", 2)
	lines := strings.Split(parts[0], "\n")
	size, root, _ := open(parts[1], keys)
	data, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(lines[1], "event "))
	if err != nil {
		die("%s: %v", name, err)
	}
	var proof tlog.RecordProof
	for _, line := range lines[2:] {
		proof = append(proof, hash(strings.TrimPrefix(line, "path ")))
	}
	// Behind the hash of the entry before and the version stands the entry's number.
	version := []byte("yoke event 1\n")
	if !bytes.Equal(data[32:32+len(version)], version) {
		die("%s: no entry", name)
	}
	number := int64(binary.BigEndian.Uint64(data[32+len(version):]))
	if err := tlog.CheckRecord(proof, size, root, number-1, tlog.RecordHash(data)); err != nil {
		die("%s: entry %d is not in the tree of %d: %v", name, number, size, err)
	}
	data[len(data)-1] ^= 1
	if tlog.CheckRecord(proof, size, root, number-1, tlog.RecordHash(data)) == nil {
		die("%s: any entry is in the tree", name)
	}
}

func main() {
	var all []note.Verifier
	for _, word := range strings.Fields(read(os.Args[1])) {
		if v, err := note.NewVerifier(word); err == nil {
			all = append(all, v)
		}
	}
	keys := note.VerifierList(all...)
	var last int64
	notes, two := 0, 0
	rest := read(os.Args[2])
	for rest != "" {
		// Behind the text of a note there is an empty line, and behind its signatures another.
		end := strings.Index(rest, "\n\n") + 2
		end += strings.Index(rest[end:], "\n\n") + 1
		size, _, signatures := open(rest[:end], keys)
		if size <= last {
			die("a checkpoint of %d follows one of %d", size, last)
		}
		if signatures > 1 {
			two++
		}
		last = size
		notes++
		rest = rest[end+1:]
	}
	for _, name := range os.Args[3:] {
		check(name, keys)
	}
	fmt.Printf("keys %d, notes %d, of two keys %d, proofs %d\n", len(all), notes, two, len(os.Args)-3)
}
