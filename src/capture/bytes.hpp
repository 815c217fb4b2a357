#pragma once
// The file's bytes, read once, and their SHA-256.

#include <cstdint>
#include <filesystem>
#include <span>
#include <string>
#include <vector>

#include "base/trouble.hpp"

namespace lotwear {

using Bytes = std::vector<std::uint8_t>;
using ByteView = std::span<const std::uint8_t>;

/// Problem: missing, a dangling link, a folder, unreadable, empty, more than `at_most` bytes.
Result<Bytes> read_photo_bytes(const std::filesystem::path& path, std::size_t at_most);

/// Lower-case hex, 64 letters.
std::string sha256_hex(ByteView bytes);

}  // namespace lotwear
