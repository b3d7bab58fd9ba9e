/* Enginewright: proves custom piston engines on an engine dyno.
 * Copyright (C) 2026 the Enginewright authors. GPL-3.0-or-later; see COPYING. */
#include "cli/command.h"
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* Started with a standard stream closed, the next file that is opened would get its number: the book would be read as control lines, or
 * printed into. Input is empty then, and what is written fails, as it would have. */
static void hold_standard_streams(void) {
  for (int fd = STDIN_FILENO; fd <= STDERR_FILENO; fd++)
    if (fcntl(fd, F_GETFD) < 0)
      open("/dev/null", O_RDONLY); /* the lowest number that is free: this one */
}

/* GLib before 2.76 keeps small blocks in slabs of its own, which break up the memory of a process that runs for hours: four lying sources
 * and a flooding device cost 4.5 MB an hour with nothing lost. It reads whether to from G_SLICE before main begins, so a command that
 * serves or records begins once more with it set. Newer ones have no slabs (GLib 2.76, release notes). Where that can't be done, all goes on. */
static void without_slabs(int argc, char **argv) {
  gboolean long_lived = FALSE;
  for (int i = 1; i < argc; i++)
    long_lived |= strcmp(argv[i], "serve") == 0 || strcmp(argv[i], "record") == 0;
  if (long_lived && glib_check_version(2, 76, 0) && setenv("G_SLICE", "always-malloc", 0) == 0)
    execv("/proc/self/exe", argv);
}

int main(int argc, char **argv) {
  hold_standard_streams();
  if (!getenv("G_SLICE"))
    without_slabs(argc, argv);
  /* a limit on the size of files is reported by the write that fails, as a full disk is */
  signal(SIGXFSZ, SIG_IGN);
  return ew_main(argc, argv);
}
