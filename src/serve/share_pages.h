/* What a customer's link shows: a page, the report, the care sheet, the photos that the shop ticked, and, where that was
 * allowed, the figures of the last pulls and of the channels that the shop chose while the engine runs. Of one engine of one book, and nothing else. */
#pragma once
#include "book/book.h"
#include "serve/request.h"
#include "serve/shares.h"

#define EW_SHARE_PAGES(X)                                                                          \
  X(INDEX, "page", FALSE)                                                                          \
  X(LOOK, "look.css", FALSE)                                                                       \
  X(SCRIPT, "figures.js", FALSE)                                                                   \
  X(FIGURES, "figures", TRUE)                                                                      \
  X(NOW, "now", FALSE)                                                                             \
  X(REPORT, "report", TRUE)                                                                        \
  X(REPORT_PDF, "report.pdf", TRUE)                                                                \
  X(CARE_PDF, "care.pdf", TRUE)                                                                    \
  X(PHOTO, "photo/", FALSE)
/* Of the address behind the token, its name, and whether it takes time to make. */
enum ew_share_page {
#define X(id, name, slow) EW_SHARE_##id,
  EW_SHARE_PAGES(X)
#undef X
      EW_SHARE_PAGES_COUNT
};

/* "/TOKEN/photo/3" taken apart; *photo 0 where there is none. FALSE: there is no such address. */
gboolean ew_share_split(const char *path, char token[65], enum ew_share_page *page, gint64 *photo);
gboolean ew_share_is_slow(enum ew_share_page page);

/* Answers that took time, kept until the book changes. Of one thread. */
struct ew_share_kept;
struct ew_share_kept *ew_share_kept_new(void);
void ew_share_kept_free(struct ew_share_kept *kept);

/* FALSE with *error: it could not be made. FALSE without: the link does not show that. */
gboolean ew_share_answer(struct ew_book *book, const struct ew_share *share,
                         enum ew_share_page page, gint64 photo, struct ew_share_kept *kept,
                         struct ew_reply *reply, GError **error);
