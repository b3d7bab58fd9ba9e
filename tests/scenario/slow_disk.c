/* Loaded before the C library: a disk that takes its time. Each fsync and fdatasync of one process waits EW_SLOW_MS milliseconds, every
 * fiftieth fifty times as long. */
#include <dlfcn.h>
#include <stdatomic.h>
#include <stddef.h>
#include <stdlib.h>
#include <time.h>
#include <unistd.h>

static atomic_uint calls;

static void wait_a_while(void) {
  const char *given = getenv("EW_SLOW_MS");
  long ms = given ? strtol(given, NULL, 10) : 0;
  if (ms <= 0)
    return;
  if (atomic_fetch_add(&calls, 1) % 50 == 49)
    ms *= 50;
  struct timespec pause = {ms / 1000, ms % 1000 * 1000000};
  nanosleep(&pause, NULL);
}

static int sync_by(const char *name, int file) {
  int (*real)(int);
  *(void **)&real = dlsym(RTLD_NEXT, name);
  wait_a_while();
  return real(file);
}

int fsync(int file) {
  return sync_by("fsync", file);
}

int fdatasync(int file) {
  return sync_by("fdatasync", file);
}
