/* Loaded before the C library: counts the blocks of memory that are in use, in a file that is mapped, so that a test can read it at any
 * time: two 64-bit figures, blocks and bytes. Blocks of the size of a database page (SQLite's page cache, bounded by itself: 2 MB a
 * connection) are counted apart, as two more. EW_LIVE_FILE names the file. */
#include <dlfcn.h>
#include <fcntl.h>
#include <malloc.h>
#include <stdatomic.h>
#include <stddef.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <unistd.h>

void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *old, size_t size);
void *__libc_memalign(size_t align, size_t size);
void __libc_free(void *block);

struct counts {
  atomic_long blocks, bytes, pages, page_bytes;
};
static struct counts own, *counts = &own;

__attribute__((constructor)) static void begin(void) {
  const char *path = getenv("EW_LIVE_FILE");
  int file = path ? open(path, O_RDWR) : -1;
  void *at =
      file >= 0 ? mmap(NULL, sizeof own, PROT_READ | PROT_WRITE, MAP_SHARED, file, 0) : MAP_FAILED;
  if (file >= 0)
    close(file);
  if (at == MAP_FAILED)
    return;
  *(struct counts *)at = own; /* what was taken before main is alone here */
  counts = at;
}

static void note(void *block, long sign) {
  if (!block)
    return;
  long size = (long)malloc_usable_size(block);
  int page = size >= 4096 && size < 4700;
  atomic_fetch_add(page ? &counts->pages : &counts->blocks, sign);
  atomic_fetch_add(page ? &counts->page_bytes : &counts->bytes, sign * size);
}

void *malloc(size_t size) {
  void *block = __libc_malloc(size);
  note(block, 1);
  return block;
}
void *calloc(size_t count, size_t size) {
  void *block = __libc_calloc(count, size);
  note(block, 1);
  return block;
}
void *realloc(void *old, size_t size) {
  note(old, -1);
  void *block = __libc_realloc(old, size);
  note(block ? block : size ? old : NULL, 1);
  return block;
}
void *memalign(size_t align, size_t size) {
  void *block = __libc_memalign(align, size);
  note(block, 1);
  return block;
}
void *aligned_alloc(size_t align, size_t size) {
  return memalign(align, size);
}
int posix_memalign(void **block, size_t align, size_t size) {
  *block = memalign(align, size);
  return *block ? 0 : 12;
}
void free(void *block) {
  note(block, -1);
  __libc_free(block);
}
