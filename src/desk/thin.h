/* Idle samples of all recordings that the book's rule is about (book/thin.h), one transaction a recording, and the room given back. */
#pragma once
#include "base/progress.h"
#include "book/thin.h"

struct ew_thinning {
  GArray *rows; /* struct ew_thin_done */
  struct ew_thin_done sum;
  gint64 size_before, size_after; /* of the book's file */
  gboolean shrunk;
  char *
      kept_because; /* why the file stays as large as it was, for people; NULL: it does not, or nothing was to be given back */
};
struct ew_thin_asked {
  const GArray *ids; /* gint64; NULL: every recording */
  gboolean look;     /* tell what would be done */
  gboolean no_shrink;
  ew_progress progress; /* may be NULL */
};
/* Refuses: no rule; a recording that was asked for and stays whole; a rule whose rate no recording reaches. */
gboolean ew_desk_thin(struct ew_book *book, const struct ew_thin_rule *rule,
                      const struct ew_thin_asked *asked, struct ew_thinning *thinning,
                      GError **error);
void ew_thinning_clear(struct ew_thinning *thinning);
