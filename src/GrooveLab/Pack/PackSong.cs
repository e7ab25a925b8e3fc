using GrooveLab.Files;
using GrooveLab.Music.Charts;

namespace GrooveLab.Pack;

/// <summary>A song of a pack.</summary>
/// <param name="Number">Its place in the set, from 1.</param>
/// <param name="Title">Its title.</param>
/// <param name="Source">The chart as given, for messages.</param>
/// <param name="Inputs">Identifies the texts of the chart and of the instruments file beside it.</param>
/// <param name="Versions">The song in each key, first the chart's own.</param>
internal sealed record PackSong(int Number, string Title, string Source, ContentHash Inputs, IReadOnlyList<PackVersion> Versions);

/// <summary>A song in one key.</summary>
/// <param name="Chart">The chart in this key.</param>
/// <param name="Singers">The singers whose key it is.</param>
/// <param name="IsOwn">Whether it is the chart's own key.</param>
internal sealed record PackVersion(Chart Chart, IReadOnlyList<string> Singers, bool IsOwn);
