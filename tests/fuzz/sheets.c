/* Every sheet drawn from a book whose values and pages were changed, and that still opens: drawn, or refused in words. Input: which
 * sheet and form (1 byte), how much of the rest changes bytes (1), then the changes (sample_book.h). */
#include "sample_book.h"
#include "book/store.h"
#include "desk/build_sheet.h"
#include "desk/day_sheet.h"
#include "desk/report.h"
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static gboolean draw(struct ew_desk *desk, uint8_t which, const char *path, GError **error) {
  static const enum ew_format formats[] = {EW_FORMAT_PDF, EW_FORMAT_SVG};
  struct ew_sheet_options sheet = {.path = path,
                                   .format = formats[which >> 4 & 1],
                                   .paper = which >> 5 & 1,
                                   .units = which >> 6 & 1};
  guint kind = which % (EW_BUILD_SHEETS_COUNT + 3);
  if (kind < EW_BUILD_SHEETS_COUNT) {
    struct ew_build_sheet_options build = {.sheet = sheet, .kind = kind};
    return ew_make_build_sheet(desk, &build, error);
  }
  if (kind == EW_BUILD_SHEETS_COUNT) {
    struct ew_day_sheet_options day = {.sheet = sheet};
    return ew_make_day_sheet(desk, &day, error);
  }
  struct ew_report_options report = {.sheet = sheet};
  if (kind == EW_BUILD_SHEETS_COUNT + 1)
    report.sheet.format = EW_FORMAT_HTML;
  return ew_make_report(desk, &report, error);
}

static void read_book(struct ew_book *book, const char *folder, uint8_t which) {
  g_autoptr(GError) error = NULL;
  struct ew_desk desk = {0};
  g_autofree char *path = g_build_filename(folder, "sheet", NULL);
  gboolean good = ew_desk_open(&desk, book, &error) && draw(&desk, which, path, &error);
  if (good == (error != NULL))
    g_error("drawn: %d, and said: %s", good, error ? error->message : "nothing");
  ew_desk_clear(&desk);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  const struct ew_sample *sample = ew_sample_book();
  if (size < 2)
    return -1;
  size_t bytes = MIN(data[1] % 24u, size - 2);
  g_autofree guint8 *image = g_memdup2(sample->image, sample->size);
  ew_sample_change_bytes(image, sample->size, data + 2, bytes);
  ew_sample_put(sample, image);
  ew_sample_change_values(sample->path, data + 2 + bytes, size - 2 - bytes);
  g_autoptr(GError) error = NULL;
  struct ew_book *book = ew_book_open(sample->path, FALSE, &error);
  if (!book)
    return -1; /* what does not open is the business of the target "book_file" */
  read_book(book, sample->folder, data[0]);
  ew_book_close(book);
  ew_book_forget_trouble();
  return 0;
}

/* What other libraries leak: a bad unit, and fonts. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void) {
  return "leak:libudunits2\nleak:libfontconfig\nleak:libpango\n";
}
