/* Enginewright: proves custom piston engines on an engine dyno.
 * Copyright (C) 2026 the Enginewright authors. GPL-3.0-or-later; see COPYING. */
#include "cli/command.h"
#include <fcntl.h>
#include <signal.h>
#include <unistd.h>

/* Started with a standard stream closed, the next file that is opened would get its number: the book would be read as control lines, or
 * printed into. Input is empty then, and what is written fails, as it would have. */
static void hold_standard_streams(void) {
  for (int fd = STDIN_FILENO; fd <= STDERR_FILENO; fd++)
    if (fcntl(fd, F_GETFD) < 0)
      open("/dev/null", O_RDONLY); /* the lowest number that is free: this one */
}

int main(int argc, char **argv) {
  hold_standard_streams();
  /* a limit on the size of files is reported by the write that fails, as a full disk is */
  signal(SIGXFSZ, SIG_IGN);
  return ew_main(argc, argv);
}
