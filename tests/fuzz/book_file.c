/* A whole book whose pages and values were changed: opened, verified, every record read. The input is a list of changes to a
 * sound book that the target makes once: where, how many bytes, and which. Structure-aware: half of the places are page heads,
 * where SQLite keeps its trees. */
#include "sample_book.h"
#include "book/write.h"
#include "book/attachment.h"
#include "book/curve_blob.h"
#include "book/curve_note.h"
#include "book/ledger.h"
#include "book/note.h"
#include "book/store.h"
#include "book/stream.h"
#include "book/verify.h"
#include <stdint.h>
#include <stdio.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static char *path;
static guint8 *image;
static gsize image_size;

static gboolean keep(struct ew_book *book) {
  static const char text[] = "Time [s],Engine Speed [rpm],Torque [N m]\n0,2000,100\n1,3000,120\n";
  static const double rows[] = {0, 2000, 4, 0.1, 2010, 4.1};
  g_autoptr(GBytes) bytes = g_bytes_new_static(text, sizeof text - 1);
  g_autofree char *digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);
  struct ew_recording_row recording = {
      .rows = 2, .channels = 2, .name = (char *)"run.csv", .sha256 = digest, .bytes = bytes};
  char *names[] = {(char *)"RPM", (char *)"Oil pressure"},
       *units[] = {(char *)"rpm", (char *)"bar"};
  struct ew_stream_facts facts = {.name = "live",
                                  .source = "stdin:",
                                  .durability = "power",
                                  .names = names,
                                  .units = units,
                                  .channels = 2};
  struct ew_owner owner = {EW_OWNER_DAY, 0, "2026-03-01"};
  gboolean added;
  gint64 id = ew_recording_add(book, &recording, 1, NULL);
  struct ew_pull_row pull = {.recording_id = id,
                             .kind = (char *)"sweep",
                             .at = (char *)"2026-03-01T10:00:00Z",
                             .day = (char *)"2026-03-01",
                             .purpose = (char *)"pull",
                             .setup = (char *)"spark: 28 deg\n",
                             .top_rpm = 3000,
                             .band_mean_n_m = 110};
  gint64 pull_id = ew_pull_add(book, &pull, NULL);
  struct ew_curve_row curve = {(char *)"", (char *)"", (char *)"", digest, bytes, NULL};
  gint64 stream = ew_stream_begin(book, &facts, NULL);
  return pull_id && ew_curve_put(book, pull_id, &curve, NULL) && stream &&
         ew_stream_append(book, stream, 0, rows, 2, 3, NULL) &&
         ew_mark_add(book, stream, 0.1, "smoke", NULL) &&
         ew_stream_end(book, stream, "ended", NULL) &&
         ew_note_add(book, "2026-03-01T10:00:00Z", "a drip", &added, NULL) &&
         ew_attachment_add(book, &owner, "a.txt", bytes, "note", NULL, NULL);
}

static void make(void) {
  g_autoptr(GError) error = NULL;
  path = g_build_filename(ew_sample_folder(), "fuzz.book", NULL);
  struct ew_book *book = ew_book_open(path, TRUE, &error);
  g_assert(book && ew_book_begin(book, NULL) && keep(book) && ew_book_commit(book, NULL));
  ew_book_checkpoint(book, TRUE, NULL);
  ew_book_close(book);
  g_assert(g_file_get_contents(path, (char **)&image, &image_size, NULL));
}

static void read_all(struct ew_book *book) {
  struct ew_verification v;
  struct ew_ledger ledger;
  ew_book_verify(book, NULL, &v, NULL);
  ew_verification_clear(&v);
  ew_ledger_read(book, 0, &ledger, NULL);
  g_autoptr(GArray) pulls = ew_pull_list(book, 0, NULL);
  g_autoptr(GArray) streams = ew_stream_list(book, NULL);
  g_autoptr(GArray) notes = ew_note_list(book, NULL, NULL);
  g_autoptr(GArray) pinned = ew_curve_note_list(book, 0, NULL);
  g_autoptr(GArray) files = ew_attachment_list(book, NULL, TRUE, NULL);
  for (guint i = 0; i < streams->len; i++) {
    gint64 id = g_array_index(streams, struct ew_stream_row, i).id;
    GBytes *table = ew_stream_table(book, id, NULL);
    g_autoptr(GArray) marks = ew_mark_list(book, id, NULL);
    if (table)
      g_bytes_unref(table);
  }
  for (guint i = 0; i < files->len; i++) {
    GBytes *bytes =
        ew_attachment_bytes(book, g_array_index(files, struct ew_attachment_row, i).id, NULL);
    if (bytes)
      g_bytes_unref(bytes);
  }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  if (!image)
    make();
  g_autofree guint8 *copy = g_memdup2(image, image_size);
  ew_sample_change_bytes(copy, image_size, data, size);
  FILE *file = fopen(path, "wb"); /* not g_file_set_contents, which waits for the disk */
  g_assert(file && fwrite(copy, 1, image_size, file) == image_size && fclose(file) == 0);
  g_autoptr(GError) error = NULL;
  struct ew_book *book = ew_book_open(path, FALSE, &error);
  g_assert((book == NULL) == (error != NULL));
  if (book)
    read_all(book);
  ew_book_close(book);
  ew_book_forget_trouble();
  return 0;
}

/* udunits2 leaks a few bytes on a bad parse. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void) {
  return "leak:libudunits2\n";
}
