/* The two ways a carrier is started. */
#ifndef RUN_H
#define RUN_H

/* For a service: the order comes over descriptor CARRY_FD. Exit status: 0 when an outcome was
 * given, else 1. */
int run_order(int stop_fd);

/*
 * By hand in the foreground: send|fetch|inspect MACHINE.conf CHANNEL=FILE ... Exit status: 0 done,
 * 1 not done, 2 wrong use or a file that cannot be read.
 */
int run_by_hand(int argc, char **argv, int stop_fd);

#endif
