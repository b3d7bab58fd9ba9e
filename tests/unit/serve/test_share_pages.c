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

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_many_links)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
