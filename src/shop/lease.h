/* Tasks of a search that are handed out on lease: any program that reaches the database takes one, works, and hands in its lines; whoever dies
 * lets his lease run out, and another takes the task.
 *
 *   open --take--> leased --done--> done
 *    ^               | time runs out, or given back
 *    +---------------+   after EW_LEASE_TRIES leases that came to nothing: set aside
 *
 * All times are the database's own, so a worker's clock may be wrong. Handing in twice, or after the lease ran out, changes nothing: the same
 * task has the same lines; other lines for the same run are refused. The store beneath: src/shop/postgresql/lease.c.
 *
 * Costs: taking is one look-up in an index of open tasks (FOR UPDATE SKIP LOCKED: nobody waits for another); a task is a row, a run a row. */
#pragma once
#include <glib.h>

#define EW_LEASE_TRIES 10
#define EW_LEASE_MOST  1000000 /* tasks of a search */

struct ew_leases;
/* *stop, which may be set from elsewhere, ends whatever it waits for. Errors: as store.h says of a store. */
struct ew_leases *ew_leases_open(const char *address, const gint *stop, GError **error);
void ew_leases_close(struct ew_leases *leases);
typedef struct ew_leases ew_leases;
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_leases, ew_leases_close)

struct ew_lease_search {
  const char
      *key; /* of question, engine, program and share of work: who has the same may work together */
  const char *question; /* of question and engine alone */
  int physics, tasks;
};
struct ew_lease_counts {
  gint64 tasks, done, leased, aside; /* aside: set aside */
};
/* Begins it, or joins it where it is there. Refuses one whose question was begun by other physics. */
gboolean ew_leases_begin(struct ew_leases *leases, const struct ew_lease_search *search,
                         gboolean *joined, GError **error);
/* *number -1: nothing is open now. */
gboolean ew_leases_take(struct ew_leases *leases, const char *worker, double lease_s,
                        gint64 *number, GError **error);
/* *mine FALSE: another has it by now, or it is done. */
gboolean ew_leases_beat(struct ew_leases *leases, const char *worker, gint64 number, double lease_s,
                        gboolean *mine, GError **error);
/* lines: of a file of kept runs, with newlines between. */
gboolean ew_leases_done(struct ew_leases *leases, const char *worker, gint64 number,
                        const char *lines, GError **error);
/* Given back, with what went wrong; NULL: nothing did, its worker was told to stop, and the try does not count. */
gboolean ew_leases_failed(struct ew_leases *leases, const char *worker, gint64 number,
                          const char *says, GError **error);
/* Tasks that were set aside are open again. */
gboolean ew_leases_again(struct ew_leases *leases, gint64 *tasks, GError **error);
gboolean ew_leases_count(struct ew_leases *leases, struct ew_lease_counts *counts, GError **error);
/* What was said of the first task set aside; g_free, NULL: nothing. */
char *ew_leases_why(struct ew_leases *leases);
typedef gboolean (*ew_leases_line)(const char *line, gpointer data, GError **error);
/* All lines of the search, in the order of their keys; some thousand at a time in memory. */
gboolean ew_leases_read(struct ew_leases *leases, ew_leases_line take, gpointer data,
                        GError **error);
