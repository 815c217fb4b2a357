#include "review/gate.hpp"

#include <fmt/format.h>
#include <sys/random.h>

#include <array>

#include "base/trouble.hpp"

namespace lotwear {

namespace {

/// The value of one cookie in a Cookie header.
std::string cookie_value(const std::string& header, const std::string& name) {
  std::size_t at = 0;
  while (at < header.size()) {
    const std::size_t end = std::min(header.find(';', at), header.size());
    std::size_t start = at;
    while (start < end && header[start] == ' ')
      ++start;
    const std::string_view one(header.data() + start, end - start);
    if (one.starts_with(name + "=")) return std::string(one.substr(name.size() + 1));
    at = end + 1;
  }
  return "";
}

}  // namespace

std::string random_token() {
  std::array<unsigned char, 16> bytes{};
  if (::getrandom(bytes.data(), bytes.size(), 0) != static_cast<ssize_t>(bytes.size()))
    throw Failure("the system gives no random numbers; without them the review cannot be kept to this browser");
  std::string token;
  for (const unsigned char byte : bytes)
    token += fmt::format("{:02x}", byte);
  return token;
}

Gate::Gate(std::string token, int port)
    : token_(std::move(token)), cookie_name_(fmt::format("lotwear-{}", port)), port_(port) {}

std::string Gate::cookie() const {
  return fmt::format("{}={}; HttpOnly; SameSite=Strict; Path=/", cookie_name_, token_);
}

bool Gate::is_us(const std::string& host) const {
  return host == fmt::format("127.0.0.1:{}", port_) || host == fmt::format("localhost:{}", port_);
}

bool Gate::is_token(const std::string& given) const {
  // every letter is compared, so that the time taken tells nothing
  unsigned differ = given.size() == token_.size() ? 0 : 1;
  for (std::size_t i = 0; i < token_.size(); ++i)
    differ |= static_cast<unsigned>(token_[i] ^ (i < given.size() ? given[i] : '\0'));
  return differ == 0;
}

std::optional<TurnedAway> Gate::check(const Knock& knock) const {
  const bool reads = knock.method == "GET" || knock.method == "HEAD", writes = knock.method == "POST";
  if (!reads && !writes) return TurnedAway{405, "this page only reads and sends changes"};
  if (!is_us(knock.host)) return TurnedAway{403, "this address is not the one that lotwear review opened"};
  if (!knock.origin.empty() && !(knock.origin.starts_with("http://") && is_us(knock.origin.substr(7))))
    return TurnedAway{403, "another web site asked for this; it was turned away"};
  if (reads) {
    if (knock.target.starts_with("/?key=") || is_token(cookie_value(knock.cookie, cookie_name_))) return std::nullopt;
    return TurnedAway{403, "open the address that lotwear review printed when it started; it changes with every start"};
  }
  if (knock.origin.empty()) return TurnedAway{403, "a change must come from the review page"};
  if (!is_token(cookie_value(knock.cookie, cookie_name_)) || !is_token(knock.token))
    return TurnedAway{403,
                      "this page belongs to a review that has ended; open the address that lotwear review printed"};
  if (!knock.content_type.starts_with("application/json")) return TurnedAway{415, "changes are sent as JSON"};
  if (knock.coded_body || knock.content_length.empty()) return TurnedAway{411, "a change must say how long it is"};
  return std::nullopt;
}

}  // namespace lotwear
