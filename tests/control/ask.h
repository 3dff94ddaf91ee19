/* The operator's hand from a shell: one command to a running bench control. */
#ifndef BENCH_ASK_H
#define BENCH_ASK_H

/*
 * words[0] is the operator's address (path of a Unix socket, HOST:PORT or PORT), the rest the
 * command, ended by NULL. Waits up to five seconds for the bench control to be there. Prints the
 * answer's lines, or its head when it has none. Returns 0 for ok, 1 for an error of the bench
 * control (told on stderr), 2 when it cannot be reached.
 */
int ask_run(char *const words[]);

#endif
