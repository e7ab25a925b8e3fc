using System.Globalization;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.SoundFiles;
using GrooveLab.Export;
using GrooveLab.Files;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;
using GrooveLab.Outputs;

namespace GrooveLab.Pack;

/// <summary>A file of a pack.</summary>
/// <param name="Path">Its path in the pack, with <c>/</c> between folders.</param>
/// <param name="Label">What it is, for the index page.</param>
/// <param name="Inputs">Identifies all that it is made from.</param>
internal sealed record PackFile(string Path, string Label, ContentHash Inputs);

/// <summary>A sound file of a pack.</summary>
/// <param name="Path">Its path in the pack.</param>
/// <param name="Label">What it is, for the index page.</param>
/// <param name="Inputs">Identifies all that it is made from.</param>
/// <param name="Without">The name of the part that is missing; null for the whole band.</param>
/// <param name="Title">The title that the file carries.</param>
internal sealed record PackSound(string Path, string Label, ContentHash Inputs, string? Without, string Title);

/// <summary>The sound of a song in one key at one tempo: made together, because each part is played once for all of its files.</summary>
/// <param name="Band">The band.</param>
/// <param name="Percent">The tempo in percent of the chart's.</param>
/// <param name="Tempo">The tempo as its reader feels it.</param>
/// <param name="Seconds">The length of a file, about.</param>
/// <param name="Files">The files, the whole band first.</param>
internal sealed record PackSounds(BarComposer Band, Rational Percent, string Tempo, double Seconds, IReadOnlyList<PackSound> Files);

/// <summary>A file for the stand or for another program.</summary>
/// <param name="File">The file.</param>
/// <param name="Made">How it is made.</param>
internal sealed record PackPaper(PackFile File, PackedFile Made);

/// <summary>A song in one key in the plan.</summary>
/// <param name="Version">The song in this key.</param>
/// <param name="Tempi">Its sound at each tempo.</param>
/// <param name="Papers">Its other files.</param>
internal sealed record PlannedVersion(PackVersion Version, IReadOnlyList<PackSounds> Tempi, IReadOnlyList<PackPaper> Papers);

/// <summary>A song in the plan.</summary>
/// <param name="Song">The song.</param>
/// <param name="Versions">The song in each key.</param>
internal sealed record PlannedSong(PackSong Song, IReadOnlyList<PlannedVersion> Versions);

/// <summary>Everything that a pack contains: which files, under which names, and what each is made from. Nothing is made yet.</summary>
internal sealed class PackPlan
{
    /// <summary>The name of the index page.</summary>
    public const string Index = "index.html";

    /// <summary>The name of the record.</summary>
    public const string Record = "groovelab-pack.json";

    private const int TitleBytes = 48;

    private PackPlan(IReadOnlyList<PlannedSong> songs, string? zip)
    {
        Songs = songs;
        Zip = zip;
    }

    /// <summary>The songs.</summary>
    public IReadOnlyList<PlannedSong> Songs { get; }

    /// <summary>The path of the archive beside the folder; null for none.</summary>
    public string? Zip { get; }

    /// <summary>The sound files, in sets that are made together.</summary>
    public IEnumerable<(PackSong Song, PackVersion Version, PackSounds Sounds)> Sounds =>
        Songs.SelectMany(song => song.Versions.SelectMany(version => version.Tempi.Select(sounds => (song.Song, version.Version, sounds))));

    /// <summary>The other files, without index page and archive.</summary>
    public IEnumerable<(PackSong Song, PackVersion Version, PackPaper Paper)> Papers =>
        Songs.SelectMany(song => song.Versions.SelectMany(version => version.Papers.Select(paper => (song.Song, version.Version, paper))));

    /// <summary>The paths of all files.</summary>
    public IEnumerable<string> Paths =>
        Sounds.SelectMany(one => one.Sounds.Files.Select(file => file.Path))
            .Concat(Papers.Select(one => one.Paper.File.Path))
            .Append(Index)
            .Concat(Zip is null ? [] : [Zip]);

    /// <summary>Plans a pack.</summary>
    /// <param name="songs">The songs.</param>
    /// <param name="settings">What the pack contains.</param>
    /// <param name="bank">Identifies the sounds.</param>
    /// <param name="build">Identifies the program.</param>
    /// <param name="folderName">The name of the pack's folder, for an archive of the same name; null for no archive.</param>
    /// <exception cref="ChartProblemException">A song cannot be played at one of the tempi.</exception>
    public static PackPlan Of(IReadOnlyList<PackSong> songs, PackSettings settings, string bank, string build, string? folderName)
    {
        var folders = new UniqueNames();

        // Names that the pack itself uses.
        folders.Take(Path.GetFileNameWithoutExtension(Index), Path.GetExtension(Index));
        folders.Take(Path.GetFileNameWithoutExtension(Record), Path.GetExtension(Record));
        var digits = Math.Max(2, songs.Count.ToString(CultureInfo.InvariantCulture).Length);
        return new PackPlan(
            [.. songs.Select(song =>
            {
                var title = FileNames.Safe(song.Title, "song", TitleBytes);
                var folder = songs.Count == 1 ? string.Empty
                    : folders.Take($"{song.Number.ToString(CultureInfo.InvariantCulture).PadLeft(digits, '0')} {title}") + "/";
                var own = songs.Count == 1 ? folders : new UniqueNames();
                return new PlannedSong(song, [.. song.Versions.Select(version => OfVersion(song, version, folder, own, title, settings, bank, build))]);
            })],
            folderName is null ? null : $"../{folderName}.zip");
    }

    private static PlannedVersion OfVersion(
        PackSong song, PackVersion version, string songFolder, UniqueNames folders, string title, PackSettings settings, string bank, string build)
    {
        var place = version.IsOwn ? string.Empty : FileNames.Safe(InKey(version), "in another key");
        var names = version.IsOwn ? folders : new UniqueNames();
        var folder = songFolder + (version.IsOwn ? string.Empty : folders.Take(place) + "/");
        var tempi = settings.Tempi.Select(percent => OfTempo(song, version, percent, folder, names, title, settings, bank, build)).ToList();
        return new PlannedVersion(version, tempi, PapersOf(song, version, folder, names, title, build));
    }

    private static PackSounds OfTempo(
        PackSong song, PackVersion version, Rational percent, string parent, UniqueNames folders, string title, PackSettings settings, string bank, string build)
    {
        var words = PackSettings.InWords(percent);
        var band = BandOf(version.Chart, percent);
        var folder = parent + folders.Take(words) + "/";
        var names = new UniqueNames();
        var ending = settings.Sound.Ending();
        var heard = band.Chart.Parts.Where(part => !part.Silent).Select(part => part.Name).ToList();
        var files = new List<PackSound> { File(null) };

        // Without its only part a band would be silent.
        files.AddRange(heard.Count < 2 ? [] : heard.Select(File));
        return new PackSounds(band, percent, BarTempo.Of(band.BarAt(0)), SecondsOf(band), files);

        PackSound File(string? without)
        {
            var label = without is null ? "everybody" : $"without {without}";
            var name = FileNames.Safe($"{title}, {words}{(without is null ? string.Empty : $", without {without}")}", words, 120);
            return new PackSound(
                folder + names.Take(name, ending),
                label,
                Identity("sound", build, bank, song.Inputs.ToString(), song.Title, version.Chart.Key.ToString(), percent.ToString(), settings.Sound.ToString(), label),
                without,
                $"{song.Title}, {words}{(version.IsOwn ? string.Empty : ", " + InKey(version))}{(without is null ? string.Empty : $", without {without}")}");
        }
    }

    private static List<PackPaper> PapersOf(PackSong song, PackVersion version, string parent, UniqueNames folders, string title, string build)
    {
        var band = BandOf(version.Chart, 100);
        var taken = new Dictionary<string, (string Folder, UniqueNames Names)>(StringComparer.Ordinal);
        var papers = new List<PackPaper>();
        foreach (var made in ExportKind.All.SelectMany(kind => kind.Packed(band)))
        {
            if (!taken.TryGetValue(made.Folder, out var place))
            {
                place = (parent + folders.Take(made.Folder) + "/", new UniqueNames());
                taken.Add(made.Folder, place);
            }

            var name = place.Names.Take(FileNames.Safe(made.Suffix.Length == 0 ? title : $"{title}, {made.Suffix}", "song", 120), made.Ending);
            var inputs = Identity("paper", build, song.Inputs.ToString(), song.Title, version.Chart.Key.ToString(), made.Folder, made.Label, made.Ending);
            papers.Add(new PackPaper(new PackFile(place.Folder + name, made.Label, inputs), made));
        }

        return papers;
    }

    /// <summary>The key of a version that is not the chart's own, and whose it is: "in E dorian (Mara)".</summary>
    /// <param name="version">The version.</param>
    public static string InKey(PackVersion version) =>
        $"in {version.Chart.Key}{(version.Singers.Count == 0 ? string.Empty : $" ({string.Join(", ", version.Singers)})")}";

    /// <summary>A hash of words, in which no two lists of words are alike.</summary>
    internal static ContentHash Identity(params IEnumerable<string> words) => ContentHash.Of(string.Concat(words.Select(word => $"{word.Length}:{word};")));

    private static BarComposer BandOf(Chart chart, Rational percent) =>
        new(new StartOptions { Pace = percent / 100 }.ApplyTo(chart), new ComposerOptions { CountIn = true });

    // For the time left: without lead-in, ramps and holds.
    private static double SecondsOf(BarComposer band)
    {
        var seconds = new RenderOptions().TailSeconds;
        for (var index = 0; index < band.Plan.Bars; index++)
        {
            var bar = band.Plan.BarAt(index);
            seconds += bar.Tempo.Seconds(bar.Meter.Length).ToDouble();
        }

        return seconds;
    }
}
