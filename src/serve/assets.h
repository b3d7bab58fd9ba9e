/* The page's own files, embedded in the program. */
#pragma once
#include "serve/request.h"

/* FALSE when there is no such file. Handles the browser's tag (304) and compression. Thread-safe. */
gboolean ew_asset_find(const struct ew_request *request, struct ew_reply *reply);
