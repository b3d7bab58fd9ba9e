/* Enginewright: proves custom piston engines on an engine dyno.
 * Copyright (C) 2026 the Enginewright authors. GPL-3.0-or-later; see COPYING. */
#include "cli/command.h"

int main(int argc, char **argv) {
  return ew_main(argc, argv);
}
