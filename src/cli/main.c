/* Enginewright: proves custom piston engines on an engine dyno.
 * Copyright (C) 2026 the Enginewright authors. GPL-3.0-or-later; see COPYING. */
#include "cli/command.h"
#include <signal.h>

int main(int argc, char **argv) {
  /* a limit on the size of files is reported by the write that fails, as a full disk is */
  signal(SIGXFSZ, SIG_IGN);
  return ew_main(argc, argv);
}
