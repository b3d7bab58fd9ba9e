/* A whole session of the recorder: any bytes as what a logger sends, any lines of control, until the source ends. Without a socket: the
 * logger is standard input. The book is whole afterwards, it holds what was said to be stored, and a figure that was shown is finite or
 * absent. Input: options (1 byte), lines of control, a line "--", what the logger sends. The book is empty at first and has an alarm
 * for a speed, for a pressure and for a channel that is lost; no output acts outside it. */
#include "sample_book.h"
#include "book/stream.h"
#include "book/verify.h"
#include "cell/live_channels.h"
#include "desk/record.h"
#include <fcntl.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define TEXT_MOST 32768 /* goes into a pipe (64 kB) before anybody reads */

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static const char alarms[] =
    "alarms:\n"
    "  - {name: overspeed, watch: speed, action: shut down, says: shut "
    "throttle keep load, above: 6000 rpm}\n"
    "  - {name: oil low, watch: oil_pressure, action: back off, says: look at "
    "the gauge, below: 2 bar, hold: 0.05 "
    "s}\n"
    "  - {name: oil lost, watch: lost(oil_pressure), action: shut down, "
    "says: shut throttle keep load, "
    "above: "
    "0 s, hold: 0.2 s}\n";
static const char sensors[] =
    "sensors:\n"
    "  - {channel: AI 1, name: Oil pressure, unit: bar, kind: linear, gain: 2.5, offset: -1.25}\n"
    "  - {channel: AI 2, name: Oil temp, unit: degC, kind: table, raw: [0.2, 2.9], values: [140, "
    "20]}\n";

struct heard {
  GMutex mutex;
  GHashTable *stored; /* recording: rows said to be stored */
};

static const struct ew_sample *empty_book(void) {
  static struct ew_sample sample;
  if (!sample.image) {
    g_autoptr(GError) error = NULL;
    sample.folder = ew_sample_folder();
    sample.path = g_build_filename(sample.folder, "empty.book", NULL);
    struct ew_book *book = ew_book_open(sample.path, TRUE, &error);
    if (!book)
      g_error("%s", error->message);
    ew_book_checkpoint(book, TRUE, NULL);
    ew_book_close(book);
    g_assert(g_file_get_contents(sample.path, (char **)&sample.image, &sample.size, NULL));
  }
  return &sample;
}

static gint figure_of(const char *json, const char *key) {
  const char *at = strstr(json, key);
  g_assert(at);
  return (gint)g_ascii_strtoll(at + strlen(key), NULL, 10);
}

static void says(const struct ew_record_news *news, gpointer user) {
  struct heard *h = user;
  if (news->event != EW_RECORD_COMMIT)
    return;
  g_mutex_lock(&h->mutex);
  g_hash_table_insert(h->stored, GINT_TO_POINTER(figure_of(news->json, "\"recording\":")),
                      GINT_TO_POINTER(figure_of(news->json, "\"stored_rows\":")));
  g_mutex_unlock(&h->mutex);
}

static void sees(const GArray *channels, double time_s, const double *inside, gpointer user) {
  (void)user;
  g_assert(isfinite(time_s));
  for (guint i = 0; i < channels->len; i++)
    g_assert(!isinf(inside[i]));
}

/* The end that reads, with all of the text in it and nothing to come. */
static int pipe_of(const char *text, gsize size) {
  int ends[2];
  g_assert(pipe2(ends, O_CLOEXEC) == 0);
  g_assert(write(ends[1], text, size) == (gssize)size);
  close(ends[1]);
  return ends[0];
}

static void check(const char *path, struct heard *h) {
  g_autoptr(GError) error = NULL;
  struct ew_verification v;
  struct ew_book *book = ew_book_open(path, FALSE, &error);
  if (!book)
    g_error("%s", error->message);
  g_assert(ew_book_verify(book, NULL, &v, NULL));
  if (!v.whole)
    g_error("the book is not whole: %s", v.problems->len ? (char *)v.problems->pdata[0] : "");
  for (guint i = 0; i < v.rows->len; i++) {
    const struct ew_verified_recording *r = &g_array_index(v.rows, struct ew_verified_recording, i);
    gpointer said;
    if (g_hash_table_lookup_extended(h->stored, GINT_TO_POINTER((gint)r->id), NULL, &said))
      g_assert((gint64)r->rows == GPOINTER_TO_INT(said));
    g_hash_table_remove(h->stored, GINT_TO_POINTER((gint)r->id));
  }
  g_assert(g_hash_table_size(h->stored) == 0);
  ew_verification_clear(&v);
  ew_book_close(book);
}

static void record(uint8_t options, const char *path, struct heard *h, int control) {
  static const char *const sources[] = {"stdin:", NULL};
  struct ew_record_options how = {.book_path = path,
                                  .sources = sources,
                                  .power = options & 1,
                                  .by_hand = options >> 1 & 1,
                                  .alarms_yaml = options & 4 ? NULL : alarms,
                                  .alarms_name = options & 4 ? "none" : "alarms",
                                  .sensors_yaml = options & 8 ? sensors : NULL,
                                  .for_s = 5,
                                  .control_fd = control,
                                  .sees = sees};
  atomic_int stop = 0;
  g_autoptr(GError) error = NULL;
  gboolean good = ew_record_run(&how, says, h, &stop, &error);
  if (!good)
    g_error("refused: %s", error ? error->message : "for no reason");
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  if (size < 1 || size > TEXT_MOST)
    return -1;
  g_autofree char *text = g_strndup((const char *)data + 1, size - 1);
  char *lines = strstr(text, "\n--\n");
  if (!lines)
    return -1;
  lines[1] = 0;
  lines += 4;
  const struct ew_sample *sample = empty_book();
  ew_sample_put(sample, sample->image);
  struct heard h = {.stored = g_hash_table_new(NULL, NULL)};
  g_mutex_init(&h.mutex);
  int control = pipe_of(text, strlen(text)), input = pipe_of(lines, strlen(lines));
  g_assert(dup2(input, STDIN_FILENO) == STDIN_FILENO);
  close(input);
  record(data[0], sample->path, &h, control);
  close(control);
  check(sample->path, &h);
  g_hash_table_unref(h.stored);
  g_mutex_clear(&h.mutex);
  return 0;
}

/* What other libraries leak. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void) {
  return "leak:libudunits2\n";
}
