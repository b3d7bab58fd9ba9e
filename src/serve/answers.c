/* Kept answers in a table by question, members in order, let go together when the book or the minute changes. One
 * queue's thread uses it; no lock. */
#include "serve/answers.h"
#include "book/change.h"
#include <string.h>

#define OUTLIVES_US (10 * G_USEC_PER_SEC)
#define BYTES_MOST  ((gsize)16 << 20)

struct answer {
  struct ew_change version; /* of the book as it began to be made */
  gint64 at_us;
  GBytes *bytes;
  const char *type;
  char *download;
  gboolean inert;
};

struct ew_answers {
  GHashTable *answers; /* question -> struct answer* */
  gsize bytes;
  struct ew_change version;
  char *settled; /* the book but for blocks of a recording under way */
  gint64 minute;
};

static void answer_free(gpointer data) {
  struct answer *a = data;
  g_bytes_unref(a->bytes);
  g_free(a->download);
  g_free(a);
}

struct ew_answers *ew_answers_new(void) {
  struct ew_answers *kept = g_new0(struct ew_answers, 1);
  kept->answers = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, answer_free);
  return kept;
}

void ew_answers_free(struct ew_answers *kept) {
  if (!kept)
    return;
  g_hash_table_unref(kept->answers);
  g_free(kept->settled);
  g_free(kept);
}

static void let_go(struct ew_answers *kept) {
  g_hash_table_remove_all(kept->answers);
  kept->bytes = 0;
}

/* The question with its members in order: "?a=1&b=2" asks what "?b=2&a=1" asks. A member has no control characters. */
static char *question(const struct ew_request *r) {
  GString *text = g_string_new(r->path);
  g_autofree gpointer *names = g_hash_table_get_keys_as_array(r->query, NULL);
  guint count = g_hash_table_size(r->query);
  for (guint i = 1; i < count; i++)
    for (guint k = i; k > 0 && strcmp(names[k - 1], names[k]) > 0; k--) {
      gpointer other = names[k];
      names[k] = names[k - 1];
      names[k - 1] = other;
    }
  g_string_append_printf(text, "\n%s",
                         ew_language_code(r->language ? r->language : ew_language_now()));
  for (guint i = 0; i < count; i++)
    g_string_append_printf(text, "\n%s\n%s", (char *)names[i],
                           (char *)g_hash_table_lookup(r->query, names[i]));
  return g_string_free(text, FALSE);
}

/* Lets go of all when more than blocks of a recording came since the last question. */
static void look_at(struct ew_answers *kept, struct ew_book *book) {
  struct ew_change version = ew_book_change(book);
  gint64 minute = g_get_real_time() / (60 * G_USEC_PER_SEC);
  if (ew_change_is_same(version, kept->version) && minute == kept->minute && kept->settled)
    return;
  g_autofree char *settled = ew_book_change_but_blocks(book);
  if (minute != kept->minute || g_strcmp0(settled, kept->settled) != 0)
    let_go(kept);
  g_free(kept->settled);
  kept->settled = g_steal_pointer(&settled);
  kept->version = version;
  kept->minute = minute;
  g_assert(g_hash_table_size(kept->answers) > 0 || kept->bytes == 0);
}

gboolean ew_answers_find(struct ew_answers *kept, struct ew_book *book, const struct ew_request *r,
                         struct ew_reply *reply) {
  look_at(kept, book);
  g_autofree char *asked = question(r);
  const struct answer *a = g_hash_table_lookup(kept->answers, asked);
  if (!a || (!ew_change_is_same(a->version, kept->version) &&
             g_get_monotonic_time() - a->at_us > OUTLIVES_US))
    return FALSE;
  reply->bytes = g_bytes_ref(a->bytes);
  reply->type = a->type;
  reply->download = g_strdup(a->download);
  reply->inert = a->inert;
  return TRUE;
}

void ew_answers_add(struct ew_answers *kept, const struct ew_request *r, struct ew_reply *reply) {
  if (!reply->bytes) {
    reply->bytes = g_string_free_to_bytes(reply->json.text);
    reply->json.text = NULL;
  }
  gsize size = g_bytes_get_size(reply->bytes);
  if (size > BYTES_MOST / 4)
    return;
  if (kept->bytes + size > BYTES_MOST)
    let_go(kept);
  g_autofree char *asked = question(r);
  const struct answer *old = g_hash_table_lookup(kept->answers, asked); /* one that is too old */
  kept->bytes -= old ? g_bytes_get_size(old->bytes) : 0;
  kept->bytes += size;
  g_assert(kept->bytes <= BYTES_MOST);
  struct answer *a = g_new0(struct answer, 1);
  *a = (struct answer){kept->version, g_get_monotonic_time(),    g_bytes_ref(reply->bytes),
                       reply->type,   g_strdup(reply->download), reply->inert};
  g_hash_table_replace(kept->answers, g_steal_pointer(&asked), a);
}
