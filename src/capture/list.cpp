#include <algorithm>
#include <array>
#include <fstream>
#include <set>

#include "capture/decode.hpp"

namespace lotwear {
namespace {

namespace fs = std::filesystem;

bool has_photo_ending(const fs::path& path) {
  std::string ending = path.extension().string();
  std::transform(ending.begin(), ending.end(), ending.begin(),
                 [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; });
  constexpr std::array<const char*, 5> kEndings = {".jpg", ".jpeg", ".png", ".heic", ".heif"};
  return std::find(kEndings.begin(), kEndings.end(), ending) != kEndings.end();
}

bool is_hidden(const fs::path& path) { return path.filename().string().starts_with('.'); }

bool begins_like_a_photo(const fs::path& path) {
  std::array<char, 16> head{};
  std::ifstream in(path, std::ios::binary);
  in.read(head.data(), static_cast<std::streamsize>(head.size()));
  const ByteView seen(reinterpret_cast<const std::uint8_t*>(head.data()), static_cast<std::size_t>(in.gcount()));
  return static_cast<bool>(photo_format(seen, path.filename().string()));
}

void list_folder(const fs::path& folder, PhotoList& list) {
  std::error_code error;
  const std::size_t before = list.files.size();
  for (fs::directory_iterator at(folder, error), end; !error && at != end; at.increment(error)) {
    std::error_code ignored;
    // A link that points to nothing is kept, so that reading it says so.
    if (is_hidden(at->path()) || !has_photo_ending(at->path()) || at->is_directory(ignored)) continue;
    list.files.push_back(at->path());
  }
  if (error) {
    list.problems.push_back(
        {folder.string(), "the folder cannot be listed (" + error.message() + "); check its permissions"});
  } else if (list.files.size() == before) {
    list.problems.push_back(
        {folder.string(), "there are no JPEG, PNG or HEIC photos in this folder; name the one that has them"});
  }
}

}  // namespace

PhotoList list_photos(const std::vector<fs::path>& paths) {
  PhotoList list;
  for (const fs::path& path : paths) {
    std::error_code error;
    const fs::file_status status = fs::status(path, error);
    if (status.type() == fs::file_type::not_found) {
      list.problems.push_back({path.string(), "there is no such file or folder; check the name"});
    } else if (error) {
      list.problems.push_back({path.string(), "cannot be looked at (" + error.message() + "); check its permissions"});
    } else if (fs::is_directory(status)) {
      list_folder(path, list);
    } else if (has_photo_ending(path) || (fs::is_regular_file(status) && begins_like_a_photo(path))) {
      list.files.push_back(path);
    } else {
      list.problems.push_back({path.string(), "is not a photo; name JPEG, PNG or HEIC files, or a folder of them"});
    }
  }
  std::sort(list.files.begin(), list.files.end(), [](const fs::path& a, const fs::path& b) {
    return std::pair(a.filename().string(), a.string()) < std::pair(b.filename().string(), b.string());
  });
  // A photo that was named itself and again through its folder is one photo; two names of one file by a link are two.
  std::set<fs::path> seen;
  std::erase_if(list.files, [&](const fs::path& file) {
    std::error_code error;
    const fs::path whole = fs::absolute(file, error).lexically_normal();
    return !error && !seen.insert(whole).second;
  });
  return list;
}

}  // namespace lotwear
