/* Loaded before the C library: the process is killed by its own hand before its EW_KILL_AT-th write to a file (pwrite, ftruncate, fdatasync,
 * fsync), from 1; what the kernel has taken by then stays, as after any kill. At its end, killed or not, how many there were stands in
 * EW_KILL_COUNT's file. */
#include <dlfcn.h>
#include <fcntl.h>
#include <signal.h>
#include <stdatomic.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/types.h>
#include <unistd.h>

static atomic_long calls;

static void count(void) {
  static long at = -1;
  if (at < 0) {
    const char *given = getenv("EW_KILL_AT");
    at = given ? strtol(given, NULL, 10) : 0;
  }
  if (atomic_fetch_add(&calls, 1) + 1 == at)
    kill(getpid(), SIGKILL);
}

__attribute__((destructor)) static void tell(void) {
  const char *path = getenv("EW_KILL_COUNT");
  FILE *file = path ? fopen(path, "w") : NULL;
  if (!file)
    return;
  fprintf(file, "%ld\n", atomic_load(&calls));
  fclose(file);
}

ssize_t pwrite64(int file, const void *data, size_t size, off64_t at);
ssize_t pwrite64(int file, const void *data, size_t size, off64_t at) {
  ssize_t (*real)(int, const void *, size_t, off64_t);
  *(void **)&real = dlsym(RTLD_NEXT, "pwrite64");
  count();
  return real(file, data, size, at);
}

int ftruncate64(int file, off64_t size);
int ftruncate64(int file, off64_t size) {
  int (*real)(int, off64_t);
  *(void **)&real = dlsym(RTLD_NEXT, "ftruncate64");
  count();
  return real(file, size);
}

static int sync_by(const char *name, int file) {
  int (*real)(int);
  *(void **)&real = dlsym(RTLD_NEXT, name);
  count();
  return real(file);
}
int fsync(int file) {
  return sync_by("fsync", file);
}
int fdatasync(int file) {
  return sync_by("fdatasync", file);
}
