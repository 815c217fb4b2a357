#include "views/html_text.hpp"

#include <algorithm>
#include <cstdint>

namespace lotwear {

namespace {

constexpr std::string_view kReplacement = "\xEF\xBF\xBD";

/// Bytes of the UTF-8 character at `at`, 0 when there is none (RFC 3629: no overlong forms, no surrogates, up to
/// U+10FFFF).
std::size_t utf8_length(std::string_view text, std::size_t at) {
  const auto byte = [&](std::size_t i) { return i < text.size() ? static_cast<unsigned char>(text[i]) : 0U; };
  const unsigned first = byte(at);
  if (first < 0x80) return 1;
  const std::size_t length = first >= 0xC2 && first <= 0xDF   ? 2
                             : first >= 0xE0 && first <= 0xEF ? 3
                             : first >= 0xF0 && first <= 0xF4 ? 4
                                                              : 0;
  for (std::size_t i = 1; i < length; ++i) {
    if ((byte(at + i) & 0xC0U) != 0x80) return 0;
  }
  const unsigned second = byte(at + 1);
  const bool overlong = (first == 0xE0 && second < 0xA0) || (first == 0xF0 && second < 0x90);
  const bool surrogate = first == 0xED && second > 0x9F;
  const bool beyond = first == 0xF4 && second > 0x8F;
  return overlong || surrogate || beyond ? 0 : length;
}

}  // namespace

std::string valid_utf8(std::string_view text) {
  std::string safe;
  safe.reserve(text.size());
  for (std::size_t i = 0; i < text.size();) {
    const std::size_t length = utf8_length(text, i);
    const auto byte = static_cast<unsigned char>(text[i]);
    const bool control = (byte < 0x20 && byte != '\t' && byte != '\n') || byte == 0x7F;
    safe += length == 0 || control ? kReplacement : text.substr(i, length);
    i += std::max<std::size_t>(length, 1);
  }
  return safe;
}

std::string cut_short(const std::string& text, std::size_t most) {
  if (text.size() <= most) return text;
  std::size_t end = most;
  while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0U) == 0x80)
    --end;
  return text.substr(0, end) + "\u2026";
}

std::string escape(std::string_view text) {
  std::string safe;
  safe.reserve(text.size() + text.size() / 8);
  for (const char c : valid_utf8(text)) {
    switch (c) {
      case '&':
        safe += "&amp;";
        break;
      case '<':
        safe += "&lt;";
        break;
      case '>':
        safe += "&gt;";
        break;
      case '"':
        safe += "&quot;";
        break;
      case '\'':
        safe += "&#39;";
        break;
      default:
        safe += c;
    }
  }
  return safe;
}

std::string escape_name(std::string_view text) { return "<bdi>" + escape(text) + "</bdi>"; }

std::string base64(std::string_view bytes) {
  constexpr std::string_view letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string text;
  text.reserve((bytes.size() + 2) / 3 * 4);
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    std::uint32_t three = 0;
    for (std::size_t k = 0; k < 3; ++k) {
      three = three << 8U | (i + k < bytes.size() ? static_cast<unsigned char>(bytes[i + k]) : 0U);
    }
    for (std::size_t k = 0; k < 4; ++k) {
      text += i + k <= bytes.size() ? letters[three >> (18 - 6 * k) & 63U] : '=';
    }
  }
  return text;
}

}  // namespace lotwear
