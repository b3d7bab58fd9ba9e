/* Flow of a sheet: what stood in the memory of the flow before it was opened changes nothing. The dispatch list broke after its fourth
 * row, with most of the page free, when the height to keep was what the stack had held. */
#include "sheet/flow.h"
#include "unit.h"
#include <glib/gstdio.h>

static int pages_of(const char *path, int filling, guint rows) {
  static const struct ew_flow_column columns[] = {{"", 0.5, EW_CENTRE}, {"step", 4, EW_LEFT}};
  const struct ew_flow_head head = {
      .title = "list", .about = "an engine", .shop = "a shop", .stamp = "2026-12-01T10:00:00Z"};
  struct ew_flow flow;
  memset(&flow, filling, sizeof flow);
  if (filling < 0)
    flow.keep = 700;
  ew_flow_open(&flow, &head, path, EW_FORMAT_PDF, EW_PAPER_A4);
  g_autoptr(GPtrArray) cells = g_ptr_array_new();
  for (guint i = 0; i < 2 * rows; i++)
    g_ptr_array_add(cells, (gpointer) "x");
  ew_flow_table(&flow, columns, 2, cells, 10, 28);
  int pages = flow.pages.page;
  g_autoptr(GError) error = NULL;
  expect(ew_flow_close(&flow, &error), "the sheet is written", "%s", error ? error->message : "");
  g_unlink(path);
  return pages;
}

static void filled_before(void **state) {
  (void)state;
  g_autofree char *folder = g_dir_make_tmp("ew-flow-XXXXXX", NULL),
                  *path = g_build_filename(folder, "list.pdf", NULL);
  static const int fillings[] = {0, 0x41, 0xff, -1};
  for (gsize i = 0; i < G_N_ELEMENTS(fillings); i++) {
    int pages = pages_of(path, fillings[i], 8);
    expect(pages == 1, "eight rows on one page", "%d pages, filled with %d", pages, fillings[i]);
    pages = pages_of(path, fillings[i], 40);
    expect(pages == 2, "forty rows on two", "%d pages, filled with %d", pages, fillings[i]);
  }
  g_rmdir(folder);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(filled_before)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
