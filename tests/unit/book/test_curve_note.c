/* Notes on curves: written once, the second press, what is refused, taken back, and a book from elsewhere. */
#include "shop.h"
#include "book/curve_note.h"
#include "book/found.h"
#include <math.h>

static gint64 pin(struct ew_book *book, gint64 pull, double speed_rpm, const char *text,
                  gboolean *added, GError **error) {
  gboolean fresh;
  gint64 id = ew_keep_curve_note(book, pull, speed_rpm, text, "the fitter", &fresh, error);
  if (added)
    *added = fresh;
  return id;
}

static struct ew_book *with_two_pulls(struct shop *s) {
  *s = shop_new();
  struct ew_book *book = open_book(s->path, TRUE);
  g_autofree char *one = sweep_text(1), *two = sweep_text(2);
  assert_true(keep_recording(book, one, NULL) && keep_recording(book, two, NULL));
  return book;
}

static void by_speed_once_and_back(void **state) {
  (void)state;
  struct shop s;
  struct ew_book *book = with_two_pulls(&s);
  gboolean added;
  /* quotes, a line end, a colon, a brace and letters beyond ASCII come back as they were */
  const char *odd = "dip \"here\":\n{a, b} # 5 %; Delle \xc3\xbc \xf0\x9f\x94\xa7 \\ end";
  gint64 high = pin(book, 1, 5000, odd, &added, NULL);
  assert_true(high > 0 && added);
  gint64 low = pin(book, 1, 3000.25, "  flat  ", &added, NULL);
  assert_true(low > 0 && added);
  assert_true(pin(book, 1, 3000.25, "flat", &added, NULL) == low && !added);
  assert_true(pin(book, 2, 3000.25, "flat", &added, NULL) > low && added);

  g_autoptr(GArray) notes = ew_curve_note_list(book, 1, NULL);
  assert_int_equal(notes->len, 2);
  const struct ew_curve_note *n = (const struct ew_curve_note *)(void *)notes->data;
  assert_true(n[0].id == low && n[0].speed_rpm == 3000.25);
  assert_string_equal(n[0].text, "flat");
  assert_string_equal(n[1].text, odd);
  assert_string_equal(n[1].who, "the fitter");
  g_autoptr(GArray) all = ew_curve_note_list(book, 0, NULL);
  assert_int_equal(all->len, 3);

  /* it is no sign that was seen on the engine */
  g_autoptr(GArray) seen = ew_found_list(book, EW_FOUND_PULL, 1, NULL);
  assert_int_equal(seen->len, 0);

  g_autoptr(GError) error = NULL;
  assert_false(ew_keep_curve_note_withdrawn(book, low, " ", &error));
  expect_refused(error, "reason", "taken back without a reason");
  g_clear_error(&error);
  assert_true(ew_keep_curve_note_withdrawn(book, low, "the weather", &error));
  assert_false(ew_keep_curve_note_withdrawn(book, low, "again", &error));
  expect_refused(error, "taken back before", "taken back twice");
  g_clear_error(&error);
  assert_false(ew_keep_curve_note_withdrawn(book, 999, "x", &error));
  expect_refused(error, "999", "a note that is not there");
  g_autoptr(GArray) after = ew_curve_note_list(book, 1, NULL);
  assert_string_equal(g_array_index(after, struct ew_curve_note, 0).withdrawn, "the weather");
  assert_true(pin(book, 1, 3000.25, "flat", &added, NULL) > low && added);
  ew_book_close(book);
  shop_clear(&s);
}

static void what_is_refused(void **state) {
  (void)state;
  struct shop s;
  struct ew_book *book = with_two_pulls(&s);
  g_autofree char *lengthy = g_strnfill(EW_CURVE_NOTE_BYTES + 1, 'x');
  const struct {
    gint64 pull;
    double speed_rpm;
    const char *text, *says, *row;
  } rows[] = {
      {99, 4000, "x", "99", "a pull that is not there"},
      {1, (double)NAN, "x", "speed", "no speed"},
      {1, (double)INFINITY, "x", "speed", "an endless speed"},
      {1, 0, "x", "speed", "standing still"},
      {1, -4000, "x", "speed", "backwards"},
      {1, 4000, NULL, "text", "no text"},
      {1, 4000, " \n", "text", "blanks"},
      {1, 4000, lengthy, "400", "too long"},
      {1, 4000, "\xff\xfe", "UTF-8", "bytes that are no text"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GError) error = NULL;
    expect(pin(book, rows[i].pull, rows[i].speed_rpm, rows[i].text, NULL, &error) == 0, rows[i].row,
           "kept");
    expect_refused(error, rows[i].says, rows[i].row);
  }
  g_autoptr(GArray) none = ew_curve_note_list(book, 0, NULL);
  assert_int_equal(none->len, 0);
  for (guint i = 0; i < EW_CURVE_NOTES_MOST; i++)
    assert_true(pin(book, 1, 3000 + i, "x", NULL, NULL) != 0);
  g_autoptr(GError) full = NULL;
  assert_true(pin(book, 1, 2000, "x", NULL, &full) == 0);
  expect_refused(full, "no more", "one more than there is room for");
  assert_true(pin(book, 1, 3000, "x", NULL, NULL) != 0); /* the same again is no more */
  ew_book_close(book);
  shop_clear(&s);
}

/* A row that holds no note is named, and nothing is made up in its place. */
static void a_book_from_elsewhere(void **state) {
  (void)state;
  static const char *const texts[] = {"",
                                      "plain words",
                                      "{}",
                                      "{\"speed_rpm\":\"fast\",\"text\":\"x\"}",
                                      "{\"speed_rpm\":4000}",
                                      "{\"speed_rpm\":-1,\"text\":\"x\"}",
                                      "{\"speed_rpm\":4000,\"text\":[1]}",
                                      "[1, 2]"};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++) {
    struct shop s;
    struct ew_book *book = with_two_pulls(&s);
    assert_true(ew_book_begin(book, NULL) &&
                ew_found_add(book, EW_CURVE_NOTE, 1, *texts[i] ? texts[i] : "-", NULL, NULL) != 0 &&
                ew_book_commit(book, NULL));
    g_autoptr(GError) error = NULL;
    assert_null(ew_curve_note_list(book, 1, &error));
    expect_refused(error, "note 1|pull 1", texts[i]);
    g_autoptr(GArray) other = ew_curve_note_list(book, 2, NULL);
    assert_non_null(other);
    ew_book_close(book);
    shop_clear(&s);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(by_speed_once_and_back),
                                     cmocka_unit_test(what_is_refused),
                                     cmocka_unit_test(a_book_from_elsewhere)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
