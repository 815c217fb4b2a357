#pragma once
// A headless Chromium that answers questions about a page, over the DevTools protocol's pipes (file descriptors 3 and
// 4, messages ended by a zero byte). Linux.

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <stdexcept>
#include <string>
#include <vector>

namespace lotwear::test {

class Browser {
 public:
  /// Starts it with a profile of its own in `folder`.
  explicit Browser(const std::filesystem::path& folder) {
    std::array<int, 2> to{}, from{};
    if (::pipe(to.data()) != 0 || ::pipe(from.data()) != 0) throw std::runtime_error("no pipes for the browser");
    const std::string profile = "--user-data-dir=" + (folder / "browser").string();
    child_ = ::fork();
    if (child_ == 0) {
      // The pipes' own numbers may be 3 and 4: move them away first.
      const int in = ::fcntl(to[0], F_DUPFD, 10), out = ::fcntl(from[1], F_DUPFD, 10);
      ::dup2(in, 3);
      ::dup2(out, 4);
      const int nothing = ::open("/dev/null", O_WRONLY);
      ::dup2(nothing, STDOUT_FILENO);
      ::dup2(nothing, STDERR_FILENO);
      ::execlp("chromium", "chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic",
               "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync",
               "--force-renderer-accessibility", "--remote-debugging-pipe", profile.c_str(), "about:blank",
               static_cast<char*>(nullptr));
      ::_exit(127);
    }
    ::close(to[0]);
    ::close(from[1]);
    to_ = to[1], from_ = from[0];
    const nlohmann::json targets = call("Target.getTargets", nlohmann::json::object());
    for (const auto& target : targets.at("targetInfos")) {
      if (target.at("type") != "page") continue;
      session_ =
          call("Target.attachToTarget", {{"targetId", target.at("targetId")}, {"flatten", true}}).at("sessionId");
      return;
    }
    throw std::runtime_error("the browser opened no page");
  }
  Browser(const Browser&) = delete;
  Browser& operator=(const Browser&) = delete;
  ~Browser() {
    ::close(to_);
    ::close(from_);
    ::kill(child_, SIGTERM);
    int status = 0;
    ::waitpid(child_, &status, 0);
  }

  /// The protocol's answer; what the page reports on the way is kept in `events`.
  nlohmann::json call(const std::string& method, const nlohmann::json& params) {
    nlohmann::json message = {{"id", ++last_}, {"method", method}, {"params", params}};
    if (!session_.empty()) message["sessionId"] = session_;
    const std::string bytes = message.dump() + '\0';
    for (std::size_t done = 0; done < bytes.size();) {
      const ssize_t n = ::write(to_, bytes.data() + done, bytes.size() - done);
      if (n <= 0) throw std::runtime_error("the browser went away");
      done += static_cast<std::size_t>(n);
    }
    while (true) {
      nlohmann::json got = next();
      if (got.value("id", 0) != last_) {
        events.push_back(std::move(got));
        continue;
      }
      if (got.contains("error")) throw std::runtime_error(method + ": " + got["error"].dump());
      return got.at("result");
    }
  }

  /// Waits for an event that is named so.
  void wait_for(const std::string& method) {
    for (const nlohmann::json& event : events) {
      if (event.value("method", "") == method) return;
    }
    while (true) {
      events.push_back(next());
      if (events.back().value("method", "") == method) return;
    }
  }

  /// The value of an expression in the page.
  nlohmann::json value_of(const std::string& expression) {
    return call("Runtime.evaluate", {{"expression", expression}, {"returnByValue", true}})
        .at("result")
        .value("value", nlohmann::json());
  }

  std::vector<nlohmann::json> events;

 private:
  nlohmann::json next() {
    constexpr int kPatienceMs = 100'000;
    std::size_t end = 0;
    while ((end = held_.find('\0')) == std::string::npos) {
      pollfd ready{from_, POLLIN, 0};
      if (::poll(&ready, 1, kPatienceMs) <= 0) throw std::runtime_error("the browser does not answer");
      std::array<char, 65536> part{};
      const ssize_t n = ::read(from_, part.data(), part.size());
      if (n <= 0) throw std::runtime_error("the browser went away");
      held_.append(part.data(), static_cast<std::size_t>(n));
    }
    nlohmann::json message = nlohmann::json::parse(held_.substr(0, end));
    held_.erase(0, end + 1);
    return message;
  }

  pid_t child_ = 0;
  int to_ = -1, from_ = -1, last_ = 0;
  std::string session_, held_;
};

}  // namespace lotwear::test
