/* Linked into every target. g_error ends a process by SIGTRAP, of which libFuzzer knows nothing: the input that did it would be
 * lost. With this it ends by SIGABRT, and libFuzzer keeps the input. */
#include <signal.h>
#include <stdlib.h>

static void on_trap(int number) {
  (void)number;
  abort();
}

static void __attribute__((constructor)) watch_for_traps(void) {
  signal(SIGTRAP, on_trap);
}
