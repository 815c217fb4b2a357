#pragma once
// A survey in a local web page, where the person who stood on the lot has the last word.
// 1. `Session` holds the survey: every change goes to the journal, is flushed, is made, is saved by renaming
// 2. a new outline is measured again (`measure_again`) on the photo's `Study`: the same stages that assess runs
// 3. `ReviewServer` listens on 127.0.0.1 only, lets nobody in but the page that this run opened (`Gate`), and hands the
//    page (src/review/page, built in) its state as JSON (`page_state`)
// 4. it ends with the last tab (`Presence`), with the page's button, or when it is told to
// Every answer carries the survey's revision and every wish the one it was made on: two tabs cannot overwrite each
// other.

#include <filesystem>
#include <memory>
#include <string>

#include "review/session.hpp"

namespace lotwear {

class ReviewServer {
 public:
  /// port 0: any free one. Throws Failure when the survey is not there or taken, or the port is.
  ReviewServer(SessionPlaces places, int port);
  ~ReviewServer();
  ReviewServer(const ReviewServer&) = delete;
  ReviewServer& operator=(const ReviewServer&) = delete;

  int port() const;
  /// What the browser opens; holds the run's token.
  std::string address() const;
  /// Serves until `stop` is called or the page is done. Call it once.
  void serve();
  /// From any thread.
  void stop();
  Session& session();

 private:
  struct Inside;
  std::unique_ptr<Inside> inside_;
};

}  // namespace lotwear
