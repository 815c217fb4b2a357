#pragma once
// Who may ask: only the page that this run opened. Other pages in the same browser, other names that lead to this
// machine (DNS rebinding), and programs without the run's token are turned away before anything else is looked at.

#include <optional>
#include <string>

namespace lotwear {

/// What the gate looks at; empty where a header is missing.
struct Knock {
  std::string method, target, host, origin, cookie, token, content_type, content_length;
  bool coded_body = false;  ///< Transfer-Encoding or Content-Encoding: its length says nothing
};

struct TurnedAway {
  int status = 403;
  std::string why;  ///< one sentence for a person
};

class Gate {
 public:
  Gate(std::string token, int port);
  /// Nothing: come in.
  std::optional<TurnedAway> check(const Knock& knock) const;
  bool is_token(const std::string& given) const;
  /// Name and value of the cookie, and its attributes. The port stands in the name: cookies know none.
  std::string cookie() const;
  const std::string& token() const { return token_; }

 private:
  bool is_us(const std::string& host) const;
  std::string token_, cookie_name_;
  int port_;
};

/// 32 letters from the system's random source. Throws Failure when there is none.
std::string random_token();

}  // namespace lotwear
