/* A sound book for the targets that need one: the invented cell's engine, four pulls, a comparison, a build with its records.
 * Made once a process, in a folder of its own (in $TMPDIR, else in memory where /dev/shm is), which is also the
 * process's own machine folder. libFuzzer ends without the usual farewell: whoever starts it lets the folder go (script/fuzz). And the ways to damage it. */
#pragma once
#include <glib.h>
#include <stdint.h>

struct ew_sample {
  char *folder, *path; /* of the book; the file need not exist */
  guint8 *image;       /* the book as it was made */
  gsize size;
};
/* With the sample day's pulls. */
const struct ew_sample *ew_sample_book(void);
/* The folder alone, for a target that makes its own book. */
char *ew_sample_folder(void);

/* The file anew, without what stood beside it: journal, backups, practice. */
void ew_sample_put(const struct ew_sample *sample, const guint8 *image);
/* Changes of bytes: where (3 bytes), how many and whether in a page's head (1), and which; until `data` ends. */
void ew_sample_change_bytes(guint8 *image, gsize image_size, const uint8_t *data, size_t size);
/* Changes of values in the file, by SQL: table, column, row (3 bytes), how (1), and with what (1 and its text). What a column's
 * type or constraint refuses is left as it was. */
void ew_sample_change_values(const char *path, const uint8_t *data, size_t size);
