/* The shipper against a shop in memory that is cut off at each operation in turn, forgets what came since its backup, and is sent to by
 * copies of one book: everything is there once in the end, in order, and nothing under a name that something else has. */
#include "../book/shop.h"
#include "book/ship.h"
#include "shop/ship.h"

#define SHOP "postgresql://shop.example/weir"

struct memory {
  struct ew_shop_store store;
  GPtrArray *facts, *pending; /* of struct kept */
  int asked, at;              /* the operation that fails, with those after it; 0: none */
  gboolean loses_answer;      /* the commit that fails is done all the same */
  gint64 old;                 /* what it has had for long: up to this number */
};
struct kept {
  char *writer, *digest;
  gint64 seq, mark;
};

static void kept_free(gpointer data) {
  struct kept *k = data;
  g_free(k->writer);
  g_free(k->digest);
  g_free(k);
}

static struct memory *of(struct ew_shop_store *store) {
  return (struct memory *)store;
}

static gboolean lives(struct ew_shop_store *store, GError **error) {
  struct memory *m = of(store);
  m->asked++;
  return !m->at || m->asked < m->at || ew_fail(error, "the line is cut");
}

static const struct kept *find(struct memory *m, const char *writer, gint64 seq) {
  for (guint i = 0; i < m->facts->len; i++) {
    const struct kept *k = m->facts->pdata[i];
    if (k->seq == seq && strcmp(k->writer, writer) == 0)
      return k;
  }
  return NULL;
}

static gboolean check(struct ew_shop_store *store, GError **error) {
  return lives(store, error);
}
static gboolean line(struct ew_shop_store *store, const char *identity, const char *writer,
                     const char *parent, gint64 first, GError **error) {
  (void)identity, (void)writer, (void)parent, (void)first;
  return lives(store, error);
}
static gboolean clock_of(struct ew_shop_store *store, struct ew_shop_clock *clock, GError **error) {
  *clock = (struct ew_shop_clock){0.25, 0.001};
  return lives(store, error);
}
static gboolean reached(struct ew_shop_store *store, const char *writer, gint64 *seq,
                        GError **error) {
  *seq = 0;
  for (guint i = 0; i < of(store)->facts->len; i++) {
    const struct kept *k = of(store)->facts->pdata[i];
    if (strcmp(k->writer, writer) == 0)
      *seq = MAX(*seq, k->seq);
  }
  return lives(store, error);
}
static gboolean mark(struct ew_shop_store *store, const char *writer, gint64 seq, gint64 *value,
                     GError **error) {
  const struct kept *k = find(of(store), writer, seq);
  *value = k ? k->mark : 0;
  return lives(store, error);
}
static gboolean settled(struct ew_shop_store *store, const char *writer, gint64 seq, int days,
                        gboolean *is, GError **error) {
  assert_int_equal(days, EW_SHIP_KEEP_DAYS);
  *is = seq <= of(store)->old && find(of(store), writer, seq);
  return lives(store, error);
}
static void rollback(struct ew_shop_store *store) {
  g_ptr_array_set_size(of(store)->pending, 0);
}
static gboolean begin(struct ew_shop_store *store, const char *writer, GError **error) {
  (void)writer;
  rollback(store);
  return lives(store, error);
}
static gboolean put(struct ew_shop_store *store, const char *writer, const struct ew_letter *l,
                    GError **error) {
  if (!lives(store, error))
    return FALSE;
  assert_null(find(of(store), writer, l->seq)); /* never twice under one name */
  struct kept *k = g_new0(struct kept, 1);
  *k = (struct kept){g_strdup(writer), g_strdup(l->digest), l->seq, l->mark};
  g_ptr_array_add(of(store)->pending, k);
  return TRUE;
}
static gboolean shipped(struct ew_shop_store *store, const char *writer, gint64 seq,
                        const struct ew_shop_clock *clock, GError **error) {
  (void)writer, (void)seq, (void)clock;
  return lives(store, error);
}
static gboolean commit(struct ew_shop_store *store, GError **error) {
  gboolean alive = lives(store, error);
  if (alive || of(store)->loses_answer)
    for (guint i = of(store)->pending->len; i-- > 0;)
      g_ptr_array_add(of(store)->facts, g_ptr_array_steal_index(of(store)->pending, 0));
  return alive;
}

static const struct ew_shop_store_class class = {
    .check = check,
    .line = line,
    .clock = clock_of,
    .reached = reached,
    .mark = mark,
    .settled = settled,
    .begin = begin,
    .put = put,
    .shipped = shipped,
    .commit = commit,
    .rollback = rollback,
};

static struct memory memory_new(void) {
  return (struct memory){{&class},
                         g_ptr_array_new_with_free_func(kept_free),
                         g_ptr_array_new_with_free_func(kept_free),
                         0,
                         0,
                         FALSE,
                         0};
}
static void memory_clear(struct memory *m) {
  g_ptr_array_unref(m->facts);
  g_ptr_array_unref(m->pending);
}

static struct ew_book *joined(struct shop *s) {
  struct ew_book *book = open_book(s->path, TRUE);
  g_autofree char *text = sweep_text(3);
  assert_true(keep_recording(book, text, NULL));
  assert_true(ew_keep_join(book, SHOP, NULL));
  for (int i = 0; i < 60; i++)
    assert_true(ew_keep_setting(book, i % 2 ? "paper" : "labels", i % 3 ? "a4" : "letter", NULL));
  return book;
}

/* The shop has each number of the book's outbox, once, from the writer whose it is. */
static void all_there(struct memory *m, struct ew_book *book, const char *says) {
  g_autoptr(GArray) lines = ew_ship_lines(book, NULL);
  for (guint i = 0; i < lines->len; i++) {
    const struct ew_ship_line *l = &g_array_index(lines, struct ew_ship_line, i);
    for (gint64 seq = l->first; seq <= l->last; seq++) {
      gint64 here;
      const struct kept *there = find(m, l->writer, seq);
      assert_true(ew_ship_mark(book, seq, &here, NULL));
      expect(there && there->mark == here, says, "number %d of %s", (int)seq, l->writer);
    }
  }
}

static void ships(struct memory *m, struct ew_book *book, struct ew_ship_news *news) {
  g_autoptr(GError) error = NULL;
  expect(ew_ship_all(book, &m->store, news, &error), "ships", "%s", error ? error->message : "");
}

/* Cut at operation k, with the answer to a commit lost or not; then whole. */
static void cut_at_each(void **state) {
  struct shop s = shop_new();
  struct ew_book *book = joined(&s);
  struct ew_ship_news news;
  (void)state;
  struct memory whole = memory_new();
  ships(&whole, book, &news);
  int operations = whole.asked, cuts = 0;
  assert_true(operations > 100 && news.sent > 100);
  memory_clear(&whole);
  for (int at = 1; at <= operations; at++) {
    struct memory m = memory_new();
    m.at = at;
    m.loses_answer = at % 2;
    g_autoptr(GError) error = NULL;
    assert_false(ew_ship_all(book, &m.store, &news, &error));
    assert_string_equal(error->message, "the line is cut");
    m.at = 0;
    ships(&m, book, &news);
    all_there(&m, book, "after a cut");
    assert_int_equal(news.forks, 0);
    ships(&m, book, &news);
    assert_int_equal(news.sent, 0);
    memory_clear(&m);
    cuts++;
  }
  assert_int_equal(cuts, operations);
  struct ew_ship_state now;
  assert_true(ew_ship_state(book, &now, NULL));
  assert_true(now.shipped > 0 && now.shipped <= now.last && now.clock_s == 0.25);
  ew_ship_state_clear(&now);
  ew_book_close(book);
  shop_clear(&s);
}

static void a_shop_put_back(void **state) {
  struct shop s = shop_new();
  struct ew_book *book = joined(&s);
  struct memory m = memory_new();
  struct ew_ship_news news;
  (void)state;
  ships(&m, book, &news);
  g_ptr_array_set_size(m.facts, (gint)m.facts->len / 3);
  ships(&m, book, &news);
  assert_true(news.sent > 0);
  all_there(&m, book, "after the shop was put back");
  memory_clear(&m);
  ew_book_close(book);
  shop_clear(&s);
}

static void file_copy(const char *from, const char *to) {
  g_autofree char *bytes = NULL;
  gsize size;
  assert_true(g_file_get_contents(from, &bytes, &size, NULL));
  FILE *file = fopen(to, "wb");
  assert_true(file && fwrite(bytes, 1, size, file) == size && fclose(file) == 0);
}

/* One file, put back each time to the same backup and written on: each goes on as a writer of its own from the backup. */
static void put_back_again_and_again(void **state) {
  struct shop s = shop_new();
  struct memory m = memory_new();
  struct ew_ship_news news;
  (void)state;
  struct ew_book *book = joined(&s);
  ships(&m, book, &news);
  ew_book_close(book);
  g_autofree char *backup = g_build_filename(s.folder, "backup.book", NULL);
  file_copy(s.path, backup);
  for (int turn = 0; turn < 5; turn++) {
    file_copy(backup, s.path);
    book = open_book(s.path, FALSE);
    for (int i = 0; i <= turn; i++)
      assert_true(ew_keep_setting(book, "paper", i % 2 ? "a4" : "letter", NULL));
    ships(&m, book, &news);
    assert_int_equal(news.forks, turn > 0);
    all_there(&m, book, "put back");
    g_autoptr(GArray) lines = ew_ship_lines(book, NULL);
    assert_int_equal(lines->len, turn > 0 ? 2 : 1);
    ew_book_close(book);
  }
  memory_clear(&m);
  shop_clear(&s);
}

static void behind_its_shop(void **state) {
  struct shop s = shop_new();
  struct memory m = memory_new();
  struct ew_ship_news news;
  (void)state;
  struct ew_book *book = joined(&s);
  ew_book_close(book);
  g_autofree char *backup = g_build_filename(s.folder, "backup.book", NULL);
  file_copy(s.path, backup);
  book = open_book(s.path, FALSE);
  assert_true(ew_keep_setting(book, "paper", "a4", NULL));
  ships(&m, book, &news);
  ew_book_close(book);
  file_copy(backup, s.path);
  book = open_book(s.path, FALSE);
  ships(&m, book, &news);
  assert_true(news.lacking == 2 && news.sent == 0 && news.forks == 0);
  ew_book_close(book);
  memory_clear(&m);
  shop_clear(&s);
}

static struct ew_ship_state state_of(struct ew_book *book) {
  struct ew_ship_state state;
  assert_true(ew_ship_state(book, &state, NULL));
  ew_ship_state_clear(&state);
  return state;
}

static void trims(struct memory *m, struct ew_book *book, gint64 old) {
  g_autoptr(GError) error = NULL;
  m->old = old;
  expect(ew_ship_trim(book, &m->store, &error), "trims", "%s", error ? error->message : "");
}

/* Only what the shop has had for long leaves, never the last; younger backups get everything again, an older one is refused. */
static void leaves_the_outbox(void **state) {
  struct shop s = shop_new();
  struct memory m = memory_new();
  struct ew_ship_news news;
  (void)state;
  struct ew_book *book = joined(&s);
  trims(&m, book, 50); /* the shop has nothing yet */
  assert_int_equal(state_of(book).first, 1);
  ships(&m, book, &news);
  gint64 last = state_of(book).last;
  trims(&m, book, 0);
  assert_int_equal(state_of(book).first, 1);
  trims(&m, book, 50);
  assert_int_equal(state_of(book).first, 51);
  assert_int_equal(state_of(book).last, last);
  ships(&m, book, &news);
  assert_true(news.sent == 0 && news.forks == 0 && news.lacking == 0);
  for (int left = 70; left >= 50; left -= 10) {
    g_ptr_array_set_size(m.facts, left);
    ships(&m, book, &news);
    assert_int_equal(news.sent, last - left);
    assert_int_equal(news.forks, 0);
  }
  g_ptr_array_set_size(m.facts, 49);
  g_autoptr(GError) error = NULL;
  assert_false(ew_ship_all(book, &m.store, &news, &error));
  assert_true(error->code == EW_ERROR_INPUT && strstr(error->message, "changes 50 to 50"));
  assert_true(ew_keep_send_anew(book, NULL));
  g_autoptr(GArray) lines = ew_ship_lines(book, NULL);
  assert_int_equal(lines->len, 1);
  assert_int_equal(g_array_index(lines, struct ew_ship_line, 0).first, last + 1);
  assert_int_equal(state_of(book).first, last + 1);
  ships(&m, book, &news);
  assert_int_equal(news.sent, state_of(book).last - last); /* each row there is, once */
  assert_true(news.sent > 30 && news.forks == 0);
  trims(&m, book, G_MAXINT64);
  assert_int_equal(state_of(book).first, state_of(book).last);
  assert_true(ew_keep_setting(book, "paper", "a4", NULL));
  ships(&m, book, &news);
  assert_int_equal(news.sent, 2);
  ew_book_close(book);
  memory_clear(&m);
  shop_clear(&s);
}

/* Of two lines the older leaves first, and a backup that was put back still becomes a writer of its own. */
static void leaves_line_by_line(void **state) {
  struct shop s = shop_new();
  struct memory m = memory_new();
  struct ew_ship_news news;
  (void)state;
  struct ew_book *book = joined(&s);
  ships(&m, book, &news);
  gint64 first = state_of(book).last;
  ew_book_close(book);
  g_autofree char *backup = g_build_filename(s.folder, "backup.book", NULL);
  file_copy(s.path, backup);
  for (int turn = 0; turn < 2; turn++) {
    file_copy(backup, s.path);
    book = open_book(s.path, FALSE);
    for (int i = 0; i <= turn; i++)
      assert_true(ew_keep_setting(book, "paper", i % 2 ? "a4" : "letter", NULL));
    ships(&m, book, &news);
    assert_int_equal(news.forks, turn);
    if (turn == 0)
      ew_book_close(book);
  }
  trims(&m, book, first + 1);
  assert_int_equal(state_of(book).first, first + 2);
  ships(&m, book, &news);
  assert_true(news.sent == 0 && news.forks == 0);
  ew_book_close(book);
  memory_clear(&m);
  shop_clear(&s);
}

/* Changes that the file lost: in the middle, before a writer that came after, and the whole end of a line. */
static void damaged(void **state) {
  static const struct {
    const char *says, *sql, *want;
  } rows[] = {
      {"one in the middle", "DELETE FROM outbox WHERE seq = 40", "changes 40 to 40"},
      {"several at the end of a line", "DELETE FROM outbox WHERE seq BETWEEN 60 AND 69",
       "changes 60 to 69"},
      {"all of a line", "DELETE FROM outbox WHERE seq < 70 AND seq > 1", "changes 2 to 69"},
  };
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct shop s = shop_new();
    struct memory m = memory_new();
    struct ew_ship_news news;
    g_autoptr(GError) error = NULL;
    struct ew_book *book = joined(&s);
    assert_true(ew_keep_fork(book, 69, NULL));
    assert_true(ew_keep_setting(book, "paper", "a4", NULL));
    ew_book_close(book);
    run_sql(s.path, rows[i].sql);
    book = open_book(s.path, FALSE);
    for (int again = 0; again < 2; again++) {
      g_clear_error(&error);
      gboolean good = ew_ship_all(book, &m.store, &news, &error);
      expect(!good && error->code == EW_ERROR_INPUT && strstr(error->message, rows[i].want),
             rows[i].says, "%s", good ? "sent" : error->message);
    }
    assert_true(ew_keep_send_anew(book, NULL));
    ships(&m, book, &news);
    all_there(&m, book, rows[i].says);
    ew_book_close(book);
    memory_clear(&m);
    shop_clear(&s);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(cut_at_each),
      cmocka_unit_test(a_shop_put_back),
      cmocka_unit_test(put_back_again_and_again),
      cmocka_unit_test(behind_its_shop),
      cmocka_unit_test(leaves_the_outbox),
      cmocka_unit_test(leaves_line_by_line),
      cmocka_unit_test(damaged),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
