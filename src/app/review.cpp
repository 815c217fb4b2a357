#include "app/review.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <fmt/ostream.h>
#include <signal.h>
#include <spawn.h>
#include <unistd.h>

#include <thread>

#include "app/models.hpp"
#include "base/trouble.hpp"
#include "review/review.hpp"

namespace lotwear {

namespace {

std::filesystem::path folder_of(const std::filesystem::path& survey) {
  std::error_code error;
  if (std::filesystem::is_directory(survey, error)) return survey;
  if (survey.filename() != "survey.json")
    throw Failure(fmt::format("{}: is no survey folder; name the folder that assess wrote", survey.string()));
  const std::filesystem::path parent = survey.parent_path();
  return parent.empty() ? "." : parent;
}

/// The desktop's own way to open an address; a machine without one shows the address in the terminal.
void open_browser(std::string address) {
  posix_spawn_file_actions_t quiet;
  posix_spawn_file_actions_init(&quiet);
  posix_spawn_file_actions_addopen(&quiet, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
  posix_spawn_file_actions_addopen(&quiet, STDERR_FILENO, "/dev/null", O_WRONLY, 0);
  std::string program = "xdg-open";
  std::vector<char*> words = {program.data(), address.data(), nullptr};
  pid_t child = 0;
  ::signal(SIGCHLD, SIG_IGN);  // nobody waits for it
  // signals were blocked here; the browser wants its own
  posix_spawnattr_t attributes;
  posix_spawnattr_init(&attributes);
  sigset_t none;
  sigemptyset(&none);
  posix_spawnattr_setsigmask(&attributes, &none);
  posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGMASK);
  (void)posix_spawnp(&child, program.c_str(), &quiet, &attributes, words.data(), environ);
  posix_spawnattr_destroy(&attributes);
  posix_spawn_file_actions_destroy(&quiet);
}

/// Ctrl-C and its like, taken by one thread: every other one has them blocked.
class Stopper {
 public:
  Stopper() {
    sigemptyset(&signals_);
    for (const int one : {SIGINT, SIGTERM, SIGHUP})
      sigaddset(&signals_, one);
    pthread_sigmask(SIG_BLOCK, &signals_, nullptr);
    ::signal(SIGPIPE, SIG_IGN);  // a tab may close while it is answered
  }
  template <class Stop>
  void wait_with(Stop stop) {
    waiter_ = std::jthread([this, stop](const std::stop_token& over) {
      const timespec step{0, 100'000'000};
      while (!over.stop_requested()) {
        if (sigtimedwait(&signals_, nullptr, &step) > 0) return stop();
      }
    });
  }

 private:
  sigset_t signals_{};
  std::jthread waiter_;
};

}  // namespace

CLI::App* add_review(CLI::App& app, ReviewOptions& options) {
  CLI::App* command = app.add_subcommand("review", "Check and correct a survey in the browser, on this machine only");
  command->add_option("survey", options.survey, "survey folder, as assess wrote it")->capture_default_str();
  command->add_option("--photos", options.photos, "folder with the photos, where they were moved since assess");
  command->add_option("--port", options.port, "port to listen on; any free one if not given")
      ->check(CLI::Range(1, 65535));
  command->add_flag("--no-open", options.no_open, "do not start the browser; the address is printed");
  command->footer(
      "Every change is saved at once. It ends with the page, or with Ctrl-C.\n"
      "Examples:\n  lotwear review survey\n  lotwear review survey --photos walk-2026-04-11 --port 8080 --no-open");
  return command;
}

void review(const ReviewOptions& options, std::ostream& out) {
  Stopper stopper;
  ReviewServer server({folder_of(options.survey), models_folder(), options.photos}, options.port);
  fmt::print(out, "Review: {}\nEvery change is saved at once. Close the page or press Ctrl-C to end.\n",
             server.address());
  out.flush();
  if (!options.no_open) open_browser(server.address());
  stopper.wait_with([&] { server.stop(); });
  server.serve();
  const Survey survey = server.session().view().survey;
  const auto confirmed =
      std::count_if(survey.markings.begin(), survey.markings.end(),
                    [](const SurveyMarking& marking) { return marking.person().confirmed.value_or(false); });
  fmt::print(out, "{} of {} markings are confirmed; next: lotwear estimate, lotwear report\n", confirmed,
             survey.markings.size());
}

}  // namespace lotwear
