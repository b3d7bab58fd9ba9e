/* Which code does a run reach? Linked into programs that are compiled with -fsanitize-coverage=trace-pc: each block of code marks its place in
 * REACH_FOLDER/NAME-OF-THE-PROGRAM, a file of one byte for each byte of the program, which all its processes share and which a killed one leaves
 * as complete as one that ended. Without the folder nothing is marked. Not itself compiled with that option. For script/mutate. */
#include <fcntl.h>
#include <limits.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#define SIZE ((size_t)64 << 20) /* more than any of the programs */

extern const char __executable_start;
static unsigned char *reached;

void __sanitizer_cov_trace_pc(void);
void __sanitizer_cov_trace_pc(void) {
  unsigned char *marks = reached;
  if (!marks)
    return;
  size_t at = (size_t)((const char *)__builtin_return_address(0) - &__executable_start);
  if (at < SIZE && !marks[at])
    marks[at] = 1;
}

__attribute__((constructor)) static void begin(void) {
  char program[PATH_MAX], path[2 * PATH_MAX];
  ssize_t length = readlink("/proc/self/exe", program, sizeof program - 1);
  if (length <= 0)
    return;
  program[length] = 0;
  snprintf(path, sizeof path, "%s/%s", REACH_FOLDER, strrchr(program, '/') + 1);
  int file = open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0666);
  if (file < 0)
    return;
  void *map = ftruncate(file, (off_t)SIZE) == 0
                  ? mmap(NULL, SIZE, PROT_READ | PROT_WRITE, MAP_SHARED, file, 0)
                  : MAP_FAILED;
  close(file);
  if (map != MAP_FAILED)
    reached = map;
}
