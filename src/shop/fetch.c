/* A copy goes on from its last number if the shop has the same change there; else it is made again under another name, which
 * takes its place when it is whole. */
#include "shop/fetch.h"
#include "base/error.h"
#include "book/store.h"
#include <errno.h>
#include <glib/gstdio.h>
#include <string.h>
#include <unistd.h>

void ew_shop_split(const char *given, char **address, char **cell) {
  const char *mark = strchr(given, '#');
  *address = mark ? g_strndup(given, (gsize)(mark - given)) : g_strdup(given);
  *cell = mark && mark[1] ? g_uri_unescape_string(mark + 1, NULL) : NULL;
}

static gboolean is_meant(const struct ew_shop_head *head, const char *cell) {
  return strcmp(head->writer, cell) == 0 || strcmp(head->name, cell) == 0;
}

/* "Cell 1 (01a2..., 312 facts, last 2026-11-28T10:00:00Z)" of each. */
static char *list_of(const GArray *heads, const char *cell) {
  GString *list = g_string_new(NULL);
  for (guint i = 0; i < heads->len; i++) {
    const struct ew_shop_head *h = &g_array_index(heads, struct ew_shop_head, i);
    if (!cell || is_meant(h, cell))
      g_string_append_printf(list, "%s'%s' (%s, %s)", list->len ? ", " : "", h->name, h->writer,
                             h->came_at ? h->came_at : "-");
  }
  return g_string_free(list, FALSE);
}

static const struct ew_shop_head *find(const GArray *heads, const char *cell, GError **error) {
  const struct ew_shop_head *found = NULL;
  int count = 0;
  for (guint i = 0; i < heads->len; i++) {
    const struct ew_shop_head *h = &g_array_index(heads, struct ew_shop_head, i);
    if ((!cell || is_meant(h, cell)) && h->facts > 0) {
      found = h;
      count++;
    }
  }
  if (count == 1)
    return found;
  g_autofree char *all = list_of(heads, count ? cell : NULL);
  if (!heads->len)
    ew_refuse(error, "no cell has sent anything to this shop yet");
  else if (!count)
    ew_refuse(error, "'%.80s' has sent nothing to this shop; there are: %s", cell ? cell : "", all);
  else
    ew_refuse(error,
              "which one? %s: name the cell, or where one book went on in two places its writer",
              all);
  return NULL;
}

struct reading {
  struct ew_shop_store *store;
  const struct ew_shop_head *head;
  gint64 after, mark; /* what the copy has: its last number, and the mark there */
  gboolean apart;     /* the shop has another, or nothing, there */
  gboolean met;       /* it was handed out, and is the same */
  struct ew_book *copy;
  struct ew_fetched *fetched;
};

static gboolean take(const struct ew_letter *letter, gpointer user, GError **error) {
  struct reading *r = user;
  if (letter->seq == r->after) {
    r->met = letter->mark == r->mark;
    r->apart = !r->met;
    return r->met || ew_fail(error, "the copy and the shop went on apart");
  }
  r->fetched->facts++;
  r->fetched->last = letter->seq;
  return ew_copy_put(r->copy, letter, error);
}

static gboolean is_same_book(struct reading *r, GError **error) {
  g_autofree char *identity = r->after ? ew_book_identity(r->copy, error) : NULL;
  return !r->after ||
         (identity && (strcmp(identity, r->head->identity) == 0 ||
                       ew_refuse(error, "'%s' is a copy of another cell's book: name another file",
                                 ew_book_path(r->copy))));
}

static gboolean read_body(struct ew_book *copy, gpointer user, GError **error) {
  struct reading *r = user;
  struct ew_ship_state state;
  r->copy = copy;
  if (!ew_ship_state(copy, &state, error))
    return FALSE;
  r->after = state.last;
  ew_ship_state_clear(&state);
  r->fetched->last = r->after;
  if (!is_same_book(r, error) || !ew_ship_mark(copy, r->after, &r->mark, error))
    return FALSE;
  gboolean good =
      r->store->class->read(r->store, r->head->writer, MAX(r->after - 1, 0), take, r, error);
  if (good && r->after && !r->met) {
    r->apart = TRUE;
    return ew_fail(error, "the shop holds less than the copy");
  }
  return good;
}

static gboolean fetch_into(struct reading *r, const char *address, const char *path,
                           GError **error) {
  g_autoptr(ew_book) copy = ew_book_open(path, !g_file_test(path, G_FILE_TEST_EXISTS), error);
  *r->fetched = (struct ew_fetched){0};
  return copy && ew_keep_copy(copy, address, read_body, r, error);
}

static void remove_book(const char *path) {
  static const char *const ends[] = {"", "-wal", "-shm"};
  for (gsize i = 0; i < G_N_ELEMENTS(ends); i++) {
    g_autofree char *one = g_strconcat(path, ends[i], NULL);
    g_unlink(one);
  }
}

static gboolean fetch_whole(struct reading *r, const char *address, const char *path,
                            GError **error) {
  g_autofree char *part = g_strdup_printf("%s.part-%d", path, (int)getpid());
  remove_book(part);
  r->apart = r->met = FALSE;
  gboolean good = fetch_into(r, address, part, error);
  if (good) {
    remove_book(path);
    good = g_rename(part, path) == 0 || ew_fail(error, "%s: %s", path, g_strerror(errno));
  }
  if (!good)
    remove_book(part);
  return good;
}

static gboolean fetch(struct reading *r, const char *address, const char *path, gboolean may_renew,
                      GError **error) {
  gboolean fresh = !g_file_test(path, G_FILE_TEST_EXISTS);
  g_autoptr(GError) problem = NULL;
  if (fresh)
    return fetch_whole(r, address, path, error);
  if (fetch_into(r, address, path, &problem))
    return TRUE;
  if (r->apart && may_renew)
    return fetch_whole(r, address, path, error);
  if (r->apart)
    return ew_refuse(error, "the shop went on apart from the copy that is read here (it was put "
                            "back from a backup, or the cell's book was): start this program "
                            "again");
  g_propagate_error(error, g_steal_pointer(&problem));
  return FALSE;
}

/* The last fact there is of a cell, told from another that has its number. */
static char *stands_at(const struct ew_shop_head *head) {
  return g_strdup_printf("%s %" G_GINT64_FORMAT " %s", head->writer, head->last,
                         head->came_at ? head->came_at : "-");
}

/* seen NULL: the copy may be made again. */
static gboolean fetch_cell(struct ew_shop_store *store, const char *address, const char *cell,
                           const char *path, char **seen, struct ew_fetched *fetched,
                           GError **error) {
  g_autoptr(GArray) heads = NULL;
  *fetched = (struct ew_fetched){0};
  gboolean good = store->class->check(store, error) && store->class->begin_reading(store, error) &&
                  (heads = store->class->heads(store, error)) != NULL;
  const struct ew_shop_head *head = good ? find(heads, cell, error) : NULL;
  g_autofree char *stands = head ? stands_at(head) : NULL;
  struct reading reading = {.store = store, .head = head, .fetched = fetched};
  good = head && ((seen && g_strcmp0(*seen, stands) == 0) ||
                  fetch(&reading, address, path, seen == NULL, error));
  store->class->rollback(store);
  if (good && seen) {
    g_free(*seen);
    *seen = g_steal_pointer(&stands);
  }
  return good;
}

gboolean ew_shop_fetch(struct ew_shop_store *store, const char *address, const char *cell,
                       const char *path, struct ew_fetched *fetched, GError **error) {
  return fetch_cell(store, address, cell, path, NULL, fetched, error);
}

gboolean ew_shop_fetch_more(struct ew_shop_store *store, const char *address, const char *cell,
                            const char *path, char **seen, struct ew_fetched *fetched,
                            GError **error) {
  g_assert(seen);
  return fetch_cell(store, address, cell, path, seen, fetched, error);
}
