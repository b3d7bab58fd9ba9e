/* The list of links: read again when its file changed, changed under the file's lock, on the disk before it is in force. The diagram
 * is in shares.h. */
#include "serve/shares.h"
#include "base/error.h"
#include "base/machine.h"
#include "base/zone.h"
#include "book/book.h"
#include "serve/request.h"
#include <math.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define SHARES_MOST 200
#define HEX         64 /* digits of a token, and of a SHA-256 */

struct ew_shares {
  char *identity, *file, *machine;
  GArray *list; /* struct ew_share */
  struct stat seen;
  GError *problem;
};

void ew_share_clear(void *data) {
  struct ew_share *s = data;
  g_free(s->name);
  g_free(s->hash);
  g_free(s->made_at);
  g_free(s->until);
  g_free(s->photos);
  g_free(s->channels);
}

static GArray *new_list(void) {
  GArray *list = g_array_new(FALSE, TRUE, sizeof(struct ew_share));
  g_array_set_clear_func(list, ew_share_clear);
  return list;
}

static gboolean is_hex(const char *text) {
  return text && strlen(text) == HEX && strspn(text, "0123456789abcdef") == HEX;
}

/* ---- the machine's file ---- */

static gint64 number_of(const struct ew_node *node, const char *key) {
  const char *text = ew_node_text(node, key);
  guint64 value;
  return text && g_ascii_string_to_unsigned(text, 10, 1, G_MAXINT32, &value, NULL) ? (gint64)value
                                                                                   : 0;
}

static gboolean take_share(GArray *list, const struct ew_node *node) {
  const char *hash = ew_node_text(node, "hash"), *until = ew_node_text(node, "until"),
             *live = ew_node_text(node, "live"), *photos = ew_node_text(node, "photos");
  gint64 id = number_of(node, "id"), engine = number_of(node, "engine");
  if (!id || !engine || !is_hex(hash) || !until || isnan(ew_instant(until)) || !live || !photos ||
      strspn(photos, "0123456789,") != strlen(photos) || list->len >= SHARES_MOST)
    return FALSE;
  const char *name = ew_node_text(node, "name"), *channels = ew_node_text(node, "channels");
  struct ew_share share = {.id = id,
                           .engine = engine,
                           .name = g_strdup(name ? name : ""),
                           .hash = g_strdup(hash),
                           .made_at = g_strdup(ew_node_text(node, "made_at")),
                           .until = g_strdup(until),
                           .live = strcmp(live, "yes") == 0,
                           .photos = g_strdup(photos),
                           .channels =
                               g_strdup(channels ? channels : "")}; /* no such in older files */
  g_array_append_val(list, share);
  return TRUE;
}

static gboolean take_all(const struct ew_shares *s, const char *text, GArray *list) {
  g_autoptr(ew_node) root = ew_json_parse(text, strlen(text), NULL);
  const struct ew_node *all = root ? ew_node_member(root, "shares") : NULL;
  gboolean good = all && all->kind == EW_NODE_LIST &&
                  g_strcmp0(ew_node_text(root, "machine"), s->machine) == 0 &&
                  g_strcmp0(ew_node_text(root, "book"), s->identity) == 0;
  for (guint i = 0; good && i < all->children->len; i++)
    good = take_share(list, g_ptr_array_index(all->children, i));
  return good;
}

static struct stat look(const struct ew_shares *s) {
  g_autofree char *path = ew_machine_path(s->file);
  struct stat about;
  if (lstat(path, &about) != 0)
    memset(&about, 0, sizeof about);
  return about;
}

static gboolean is_same(const struct stat *a, const struct stat *b) {
  return a->st_ino == b->st_ino && a->st_size == b->st_size &&
         a->st_mtim.tv_sec == b->st_mtim.tv_sec && a->st_mtim.tv_nsec == b->st_mtim.tv_nsec;
}

/* A file that others can write, of another machine or book, or not whole: nobody sees anything. */
static void read_again(struct ew_shares *s) {
  g_autofree char *text = NULL;
  g_array_set_size(s->list, 0);
  g_clear_error(&s->problem);
  s->seen = look(s);
  if (!ew_machine_read(s->file, &text, &s->problem) || !text || take_all(s, text, s->list))
    return;
  g_autofree char *path = ew_machine_path(s->file);
  g_array_set_size(s->list, 0);
  ew_refuse(
      &s->problem,
      "%s: belongs to another machine or book, or is not whole; remove it, and make the links "
      "again",
      path);
}

static void read_if_changed(struct ew_shares *s) {
  struct stat now = look(s);
  if (!is_same(&s->seen, &now))
    read_again(s);
}

static void write_share(const struct ew_share *s, struct ew_json *json) {
  ew_json_open(json, NULL);
  ew_json_integer(json, "id", s->id);
  ew_json_integer(json, "engine", s->engine);
  ew_json_text(json, "name", s->name);
  ew_json_text(json, "hash", s->hash);
  ew_json_text(json, "made_at", s->made_at);
  ew_json_text(json, "until", s->until);
  ew_json_text(json, "live", s->live ? "yes" : "no");
  ew_json_text(json, "photos", s->photos);
  ew_json_text(json, "channels", s->channels);
  ew_json_close(json);
}

static gboolean store(struct ew_shares *s, GError **error) {
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  ew_json_text(&json, "machine", s->machine);
  ew_json_text(&json, "book", s->identity);
  ew_json_open_array(&json, "shares");
  for (guint i = 0; i < s->list->len; i++)
    write_share(&g_array_index(s->list, struct ew_share, i), &json);
  ew_json_close_array(&json);
  ew_json_close(&json);
  gboolean good = ew_machine_write(s->file, json.text->str, error);
  g_string_free(json.text, TRUE);
  read_again(s); /* what is on the disk is what is in force, whatever became of this */
  return good;
}

/* -1 with *error; else a lock, closed by the caller, under which the list is the file's. */
static int begin_change(struct ew_shares *s, GError **error) {
  int lock = ew_machine_lock("shares.lock", error);
  if (lock < 0)
    return -1;
  read_again(s);
  g_assert(s->list->len <= SHARES_MOST && (!s->problem || s->list->len == 0));
  if (!s->problem)
    return lock;
  g_propagate_error(error, g_error_copy(s->problem));
  close(lock);
  return -1;
}

/* ---- what is asked ---- */

struct ew_shares *ew_shares_new(const char *book_identity) {
  struct ew_shares *s = g_new0(struct ew_shares, 1);
  g_autofree char *digest = g_compute_checksum_for_string(G_CHECKSUM_SHA256, book_identity, -1);
  s->identity = g_strdup(book_identity);
  s->file = g_strdup_printf("shares-%.16s.json", digest); /* a book's words name no file */
  s->machine = ew_machine_identity();
  s->list = new_list();
  read_again(s);
  return s;
}

void ew_shares_free(struct ew_shares *s) {
  g_array_unref(s->list);
  g_clear_error(&s->problem);
  g_free(s->identity);
  g_free(s->file);
  g_free(s->machine);
  g_free(s);
}

const GArray *ew_shares_list(struct ew_shares *s, GError **error) {
  read_if_changed(s);
  if (!s->problem)
    return s->list;
  g_propagate_error(error, g_error_copy(s->problem));
  return NULL;
}

static gint64 next_id(const GArray *list) {
  gint64 last = 0;
  for (guint i = 0; i < list->len; i++)
    last = MAX(last, g_array_index(list, struct ew_share, i).id);
  return last + 1;
}

static char *add(struct ew_shares *s, const struct ew_share *asked, GError **error) {
  if (s->list->len >= SHARES_MOST) {
    ew_refuse(error, "%d links are kept: revoke some first, the expired ones for example",
              SHARES_MOST);
    return NULL;
  }
  g_autofree char *token = ew_machine_random(HEX / 2);
  g_assert(is_hex(token) && asked->engine > 0);
  struct ew_share share = {
      .id = next_id(s->list),
      .engine = asked->engine,
      .name = g_strdup(asked->name),
      .hash = g_compute_checksum_for_string(G_CHECKSUM_SHA256, token, -1),
      .made_at = ew_time_now(),
      .until = g_strdup(asked->until),
      .live = asked->live,
      .photos = g_strdup(asked->photos),
      .channels = g_strdup(asked->channels ? asked->channels : ""),
  };
  g_array_append_val(s->list, share);
  return store(s, error) ? g_steal_pointer(&token) : NULL;
}

char *ew_shares_add(struct ew_shares *s, const struct ew_share *asked, GError **error) {
  int lock = begin_change(s, error);
  char *token = lock >= 0 ? add(s, asked, error) : NULL;
  if (lock >= 0)
    close(lock);
  return token;
}

gboolean ew_shares_revoke(struct ew_shares *s, gint64 id, GError **error) {
  int lock = begin_change(s, error);
  gboolean good = lock >= 0, found = FALSE;
  for (guint i = 0; good && i < s->list->len; i++)
    if (g_array_index(s->list, struct ew_share, i).id == id) {
      g_array_remove_index(s->list, i);
      found = TRUE;
      break;
    }
  if (good)
    good = found ? store(s, error)
                 : ew_refuse(error,
                             "there is no link %" G_GINT64_FORMAT ": 'share list' lists them", id);
  if (lock >= 0)
    close(lock);
  return good;
}

/* By the hash of what was given: how long it takes says nothing of a token. */
const struct ew_share *ew_shares_find(struct ew_shares *s, const char *token, double now_s) {
  if (!is_hex(token))
    return NULL;
  g_autofree char *hash = g_compute_checksum_for_string(G_CHECKSUM_SHA256, token, -1);
  read_if_changed(s);
  for (guint i = 0; i < s->list->len; i++) {
    const struct ew_share *one = &g_array_index(s->list, struct ew_share, i);
    double until_s = ew_instant(one->until);
    if (strcmp(one->hash, hash) == 0)
      return now_s < until_s ? one : NULL; /* NaN: not */
  }
  return NULL;
}
