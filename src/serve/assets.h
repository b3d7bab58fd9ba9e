/* The page's own files, embedded in the program. */
#pragma once
#include "serve/request.h"

/* Content-Security-Policy of the page: its own files alone; `style`: what may style it besides, or nothing. */
#define EW_PAGE_POLICY(style)                                                                      \
  "default-src 'none'; script-src 'self'; style-src 'self'" style                                  \
  "; img-src 'self' blob: data:; connect-src 'self'; manifest-src 'self'; worker-src 'self'; "     \
  "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

/* FALSE when there is no such file. Handles the browser's tag (304) and compression. Thread-safe. */
gboolean ew_asset_find(const struct ew_request *request, struct ew_reply *reply);
