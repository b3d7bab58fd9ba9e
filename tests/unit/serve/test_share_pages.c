/* What a customer's link shows is made once for each change of the book, however many links there are and however many look. */
#include "../book/shop.h"
#include "serve/share_pages.h"

#define LINKS 60u

static GBytes *figures_of(struct ew_book *book, guint link, struct ew_share_kept *kept) {
  g_autofree char *hash = g_strdup_printf("%064u", link);
  const struct ew_share share = {.id = link,
                                 .engine = 1,
                                 .name = (char *)"four",
                                 .hash = hash,
                                 .live = TRUE,
                                 .photos = (char *)"",
                                 .channels = (char *)""};
  struct ew_reply reply = {0};
  g_autoptr(GError) error = NULL;
  gboolean good = ew_share_answer(book, &share, EW_SHARE_FIGURES, 0, kept, &reply, &error);
  expect(good, "figures", "%s", error ? error->message : "nothing");
  GBytes *bytes = g_bytes_ref(reply.bytes);
  ew_reply_clear(&reply);
  return bytes;
}

/* One after another, round after round: as many answers are new in the later rounds as have no room, and no more. */
static void test_many_links(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  struct ew_share_kept *kept = ew_share_kept_new();
  GBytes *had[LINKS] = {NULL};
  guint made = 0;
  for (guint round = 0; round < 3; round++)
    for (guint link = 0; link < 30; link++) {
      GBytes *bytes = figures_of(book, link, kept);
      made += bytes != had[link];
      g_clear_pointer(&had[link], g_bytes_unref);
      had[link] = bytes;
    }
  assert_int_equal(made, 30);
  for (guint link = 30; link < 40; link++) /* now it is full */
    had[link] = figures_of(book, link, kept);
  for (guint round = made = 0; round < 3; round++)
    for (guint link = 0; link < 40; link++) {
      GBytes *bytes = figures_of(book, link, kept);
      made += bytes != had[link];
      g_bytes_unref(bytes);
    }
  assert_int_equal(made, 0);
  GBytes *one_more = figures_of(book, 40, kept);
  g_bytes_unref(one_more);
  assert_true(
      ew_keep_setting(book, "paper", "letter", NULL)); /* the book has changed: all is made again */
  for (guint link = made = 0; link < 40; link++) {
    GBytes *bytes = figures_of(book, link, kept);
    made += bytes != had[link];
    g_bytes_unref(bytes);
  }
  assert_int_equal(made, 40);
  for (guint link = 0; link < LINKS; link++)
    g_clear_pointer(&had[link], g_bytes_unref);
  ew_share_kept_free(kept);
  ew_book_close(book);
  shop_clear(&s);
}

/* What stands behind a link's token: each page by its name, a photo by its number in decimal digits, and nothing else. */
static void test_addresses(void **state) {
  (void)state;
  static const struct {
    const char *rest;
    enum ew_share_page page; /* _COUNT: there is no such address */
    gint64 photo;
  } rows[] = {{"photo/1", EW_SHARE_PHOTO, 1},
              {"photo/9", EW_SHARE_PHOTO, 9},
              {"photo/10", EW_SHARE_PHOTO, 10},
              {"photo/123456", EW_SHARE_PHOTO, 123456},
              {"photo/2147483647", EW_SHARE_PHOTO, 2147483647},
              {"photo/2147483648", EW_SHARE_PAGES_COUNT, 0},
              {"photo/0", EW_SHARE_PAGES_COUNT, 0},
              {"photo/-1", EW_SHARE_PAGES_COUNT, 0},
              {"photo/1a", EW_SHARE_PAGES_COUNT, 0},
              {"photo/a", EW_SHARE_PAGES_COUNT, 0},
              {"photo/0x10", EW_SHARE_PAGES_COUNT, 0},
              {"photo/", EW_SHARE_PAGES_COUNT, 0},
              {"photo", EW_SHARE_PAGES_COUNT, 0},
              {"photo/1/", EW_SHARE_PAGES_COUNT, 0},
              {"pages", EW_SHARE_PAGES_COUNT, 0},
              {"Page", EW_SHARE_PAGES_COUNT, 0},
              {"", EW_SHARE_PAGES_COUNT, 0},
#define X(id, name, slow) {name, EW_SHARE_##id, 0},
              EW_SHARE_PAGES(X)
#undef X
  };
  g_autofree char *token = g_strnfill(64, 'f');
  for (gsize i = 0; i < G_N_ELEMENTS(rows) - 1; i++) { /* the last is a photo without a number */
    g_autofree char *path = g_strconcat("/", token, "/", rows[i].rest, NULL);
    char read[65] = "";
    enum ew_share_page page = EW_SHARE_PAGES_COUNT;
    gint64 photo = -1;
    gboolean there = ew_share_split(path, read, &page, &photo);
    expect(there == (rows[i].page != EW_SHARE_PAGES_COUNT), rows[i].rest, "%d", there);
    expect(photo == rows[i].photo, rows[i].rest, "%" G_GINT64_FORMAT, photo);
    if (there) {
      expect(page == rows[i].page, rows[i].rest, "%d", page);
      assert_string_equal(read, token);
    }
  }
  char read[65];
  enum ew_share_page page;
  gint64 photo;
  for (gsize length = 0; length < 140;
       length++) { /* a token of another length, no slash, nothing */
    g_autofree char *other = g_strnfill(length, 'f'),
                    *path = g_strconcat("/", other, "/page", NULL);
    expect(ew_share_split(path, read, &page, &photo) == (length == 64), "tokens of 64", "%zu",
           length);
    expect(!ew_share_split(other, read, &page, &photo), "no slash before it", "%zu", length);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_many_links),
                                     cmocka_unit_test(test_addresses)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
