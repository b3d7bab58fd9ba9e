/* Tickets by peer. The last ticket of 1,024 peers is remembered; those who wait for nothing are forgotten first.
 * O(1) a request. Called under the queue's lock. */
#include "serve/fair.h"

#define PEERS_MOST                                                                                 \
  1024 /* of whom the last ticket is remembered; those who wait for nothing are forgotten */

struct ew_fair {
  GHashTable *last; /* peer -> guint64*: its last ticket */
  guint64 now;      /* the highest ticket served */
};

struct ew_fair *ew_fair_new(void) {
  struct ew_fair *fair = g_new0(struct ew_fair, 1);
  fair->last = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, g_free);
  return fair;
}

void ew_fair_free(struct ew_fair *fair) {
  g_hash_table_unref(fair->last);
  g_free(fair);
}

static gboolean is_idle(gpointer peer, gpointer last, gpointer user) {
  (void)peer;
  return *(const guint64 *)last <= ((const struct ew_fair *)user)->now;
}

guint64 ew_fair_ticket(struct ew_fair *fair, guint64 peer) {
  guint64 *last = g_hash_table_lookup(fair->last, &peer);
  if (!last) {
    if (g_hash_table_size(fair->last) >= PEERS_MOST)
      g_hash_table_foreach_remove(fair->last, is_idle, fair);
    last = g_new0(guint64, 1);
    g_hash_table_insert(fair->last, g_memdup2(&peer, sizeof peer), last);
  }
  *last = MAX(*last, fair->now) + 1;
  g_assert(*last > fair->now); /* nobody is served before who waited */
  return *last;
}

void ew_fair_served(struct ew_fair *fair, guint64 ticket) {
  fair->now = MAX(fair->now, ticket);
}
