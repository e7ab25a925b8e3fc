using System.Collections.Concurrent;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.SoundFiles;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;

namespace GrooveLab.Audio.Playback;

/// <summary>The settings for rendering to a file.</summary>
public sealed record RenderOptions
{
    /// <summary>Frames a second, in Hz.</summary>
    public int SampleRate { get; init; } = 48_000;

    /// <summary>Seconds of ringing after the last bar.</summary>
    public double TailSeconds { get; init; } = EngineOptions.DefaultTailSeconds;

    /// <summary>The parts that play, by name, instrument or role; null for all.</summary>
    public IReadOnlyCollection<string>? Only { get; init; }

    /// <summary>The parts that do not play, by name, instrument or role.</summary>
    public IReadOnlyCollection<string> Without { get; init; } = [];

    /// <summary>Overall level in dB, before the limiter.</summary>
    public double MasterDecibels { get; init; } = Renderer.DefaultMasterDecibels;

    /// <summary>The format of the files, and what they say about the music.</summary>
    public SoundFileOptions File { get; init; } = new();
}

/// <summary>The result of rendering.</summary>
/// <param name="Path">The file.</param>
/// <param name="Frames">Its length in frames.</param>
/// <param name="SampleRate">Frames a second.</param>
/// <param name="PeakDecibels">The highest sample before the limiter, in dB of full scale.</param>
/// <param name="Health">The problems.</param>
public sealed record RenderedFile(string Path, long Frames, int SampleRate, double PeakDecibels, Health Health);

/// <summary>
/// Renders bars to files: 0.2 s of pre-roll, the source's bars with its lead-in, the tail. The length is exact and known in advance.
/// </summary>
/// <remarks>
/// Uses the engine, queue and synthesizer of live playing, without fade-in and start
/// level. The limiter is used for the mix, not for stems.
/// </remarks>
/// <param name="makeSynth">Creates a new synthesizer for a sample rate (frames a second), with its effects or dry.</param>
public sealed class Renderer(Func<int, ISoundFontSynth> makeSynth)
{
    /// <summary>The overall level at which a band at its usual levels peaks some 3 to 6 dB below full scale.</summary>
    public const double DefaultMasterDecibels = -2.5;

    /// <summary>Renders the mix.</summary>
    /// <param name="source">The source of the bars; it must have an end.</param>
    /// <param name="path">The path of the file.</param>
    /// <param name="options">The settings.</param>
    /// <param name="progress">Receives the finished share, 0 to 1.</param>
    /// <param name="cancellation">Cancels; no file is left.</param>
    /// <exception cref="ArgumentException">The source has no end, or a named part does not exist; the message lists the parts.</exception>
    /// <exception cref="IOException">The file exists and may not be replaced, it is too long, or the disk is full.</exception>
    /// <exception cref="OperationCanceledException">It was cancelled.</exception>
    public RenderedFile RenderMix(
        IBarSource source,
        string path,
        RenderOptions options,
        IProgress<double>? progress = null,
        CancellationToken cancellation = default)
    {
        var kept = KeptBars.Of(source);
        var plays = PartsOf(source, options);
        return Render(kept, path, options, plays, limited: true, progress, cancellation);
    }

    /// <summary>
    /// Renders each part to its own file, one after the other, with the length and level of the mix: their sum is the mix before
    /// the limiter.
    /// </summary>
    /// <param name="source">The source of the bars; it must have an end.</param>
    /// <param name="folder">The folder for the files, which are named after the parts; it must exist.</param>
    /// <param name="options">The settings.</param>
    /// <param name="progress">Receives the finished share, 0 to 1.</param>
    /// <param name="cancellation">Cancels; finished stems stay.</param>
    /// <exception cref="ArgumentException">As with <see cref="RenderMix"/>.</exception>
    /// <exception cref="IOException">As with <see cref="RenderMix"/>.</exception>
    /// <exception cref="OperationCanceledException">It was cancelled.</exception>
    public IReadOnlyList<RenderedFile> RenderStems(
        IBarSource source,
        string folder,
        RenderOptions options,
        IProgress<double>? progress = null,
        CancellationToken cancellation = default)
    {
        var kept = KeptBars.Of(source);
        var plays = PartsOf(source, options);
        var playing = source.Band.Where(plays).ToList();
        var files = new List<RenderedFile>(playing.Count);

        foreach (var (player, path) in playing.Zip(StemPaths(source, folder, options)))
        {
            var done = files.Count;
            var part = progress is null ? null : new Share(progress, done, playing.Count);
            var title = options.File.Title is { } whole ? $"{whole}: {player.Name}" : player.Name;
            var its = options with { File = options.File with { Title = title } };
            files.Add(Render(kept, path, its, channels => ReferenceEquals(channels, player), limited: false, part, cancellation));
        }

        return files;
    }

    /// <summary>
    /// Renders several mixes of one band together, much faster than one after the other: each part is played once, and each mix is the sum of its
    /// parts through a limiter of its own.
    /// </summary>
    /// <remarks>
    /// Compared with <see cref="RenderMix"/> of the same parts, samples before the limiter differ by rounding only: each part has its own reverb, and
    /// numbers are added in another order. The difference stays below -120 dB of full scale, as a test measures. Two exceptions: a band that needs
    /// more voices than a synthesizer has keeps all of them here, and parts that share the drum channel keep their own volumes.
    /// </remarks>
    /// <param name="source">The source of the bars; it must have an end.</param>
    /// <param name="files">The mixes; a mix of one part is that part through the limiter.</param>
    /// <param name="options">The settings; those for the choice of parts and for the file are not used.</param>
    /// <param name="workers">The most threads, at least 1. The files do not depend on it.</param>
    /// <param name="progress">Receives the finished share, 0 to 1.</param>
    /// <param name="cancellation">Cancels; no file is left.</param>
    /// <returns>The files, in their order.</returns>
    /// <exception cref="ArgumentException">The source has no end.</exception>
    /// <exception cref="IOException">As with <see cref="RenderMix"/>.</exception>
    /// <exception cref="OperationCanceledException">It was cancelled.</exception>
    public IReadOnlyList<RenderedFile> RenderMixes(
        IBarSource source,
        IReadOnlyList<MixFile> files,
        RenderOptions options,
        int workers,
        IProgress<double>? progress = null,
        CancellationToken cancellation = default)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(workers, 1);
        var kept = KeptBars.Of(source);

        // Composes every bar, so that the players only read them.
        var frames = FramesOf(kept, options);
        using var set = new MixSet(kept, files, frames, EngineOptionsOf(options), makeSynth, workers);
        return set.Write(options.SampleRate, progress, cancellation);
    }

    /// <summary>The files that <see cref="RenderStems"/> writes, in order.</summary>
    /// <inheritdoc cref="RenderStems"/>
    public static IReadOnlyList<string> StemPaths(IBarSource source, string folder, RenderOptions options)
    {
        // On some systems, names are equal if they differ only in case or in characters that file names may not have.
        var names = new HashSet<string>(StringComparer.OrdinalIgnoreCase);
        var paths = new List<string>();
        foreach (var player in source.Band.Where(PartsOf(source, options)))
        {
            var name = FileNameOf(player.Name);
            for (var number = 2; !names.Add(name); number++)
            {
                name = $"{FileNameOf(player.Name)}-{number}";
            }

            paths.Add(Path.Combine(folder, name + options.File.Format.Ending()));
        }

        return paths;
    }

    /// <summary>The exact length of a render, in frames: pre-roll, bars, tail.</summary>
    /// <exception cref="ArgumentException">The source has no end.</exception>
    public static long FramesOf(IBarSource source, RenderOptions options)
    {
        var setUp = EngineOptionsOf(options);
        var clocks = new ClockChain(options.SampleRate);
        var end = KeptBars.EndOf(source);
        var tempi = new List<(Position At, Tempo Tempo)>();
        Position? line = null;
        for (var index = source.First; index < end; index++)
        {
            var bar = source.BarAt(index);
            var start = line ?? Exactness.Add(bar.Start, Span.Zero);
            tempi.Clear();
            foreach (var (onset, tempo) in bar.Tempi)
            {
                tempi.Add((Exactness.Add(start, onset), Exactness.Usable(tempo)));
            }

            clocks.Follow(System.Runtime.InteropServices.CollectionsMarshal.AsSpan(tempi), index, setUp.PreRollFrames);
            line = Exactness.Add(start, bar.Length);
        }

        return (line is { } last ? clocks.FrameAt(last) : setUp.PreRollFrames) + setUp.TailFrames;
    }

    private static EngineOptions EngineOptionsOf(RenderOptions options) => new()
    {
        SampleRate = options.SampleRate,
        TailSeconds = options.TailSeconds,
        MasterDecibels = options.MasterDecibels,
        EndsStream = true,
    };

    /// <summary>Which parts of a band are rendered.</summary>
    /// <param name="source">The band.</param>
    /// <param name="options">The options that choose parts.</param>
    /// <exception cref="ArgumentException">The options name a part that the band does not have.</exception>
    public static Func<PartChannels, bool> PartsOf(IBarSource source, RenderOptions options)
    {
        foreach (var name in (options.Only ?? []).Concat(options.Without))
        {
            if (!source.Band.Any(part => Means(name, part)))
            {
                var known = string.Join(", ", source.Band.Select(part => $"{part.Name} ({part.Role.Name()})"));
                var near = Words.Nearest(name, source.Band.SelectMany(part => new[] { part.Name, part.Instrument.Name, part.Role.Name() }));
                throw new ArgumentException(
                    $"No part called '{name}'{(near is null ? string.Empty : $" (did you mean {near}?)")}; parts and their roles: {known}.");
            }
        }

        return part => (options.Only is null || options.Only.Any(name => Means(name, part)))
            && !options.Without.Any(name => Means(name, part));
    }

    // The name of a part, its instrument or its role.
    private static bool Means(string name, PartChannels part) =>
        Same(name, part.Name) || Same(name, part.Instrument.Name) || Same(name, part.Role.Name());

    private static bool Same(string a, string b) => string.Equals(a, b, StringComparison.OrdinalIgnoreCase);

    private static string FileNameOf(string part)
    {
        var invalid = Path.GetInvalidFileNameChars();
        return string.Concat(part.Select(letter => invalid.Contains(letter) || letter is '/' or '\\' or ':' ? '_' : letter));
    }

    private RenderedFile Render(
        IBarSource source,
        string path,
        RenderOptions options,
        Func<PartChannels, bool> plays,
        bool limited,
        IProgress<double>? progress,
        CancellationToken cancellation)
    {
        var frames = FramesOf(source, options);
        var synth = makeSynth(options.SampleRate);
        using var owned = synth as IDisposable;
        var player = new OfflinePlayer(BarRoute.Whole(source), synth, EngineOptionsOf(options), plays, limited);
        SoundFile.Write(
            path,
            player,
            frames,
            options.File,
            progress is null ? null : new FrameShare(progress, frames),
            cancellation);
        if (player.Engine.Playhead.Frame != frames)
        {
            throw new InvalidOperationException($"The engine rendered {player.Engine.Playhead.Frame} frames instead of {frames}.");
        }

        return new RenderedFile(path, frames, options.SampleRate, player.PeakDecibels, player.Health);
    }

    private sealed class FrameShare(IProgress<double> progress, long frames) : IProgress<long>
    {
        public void Report(long value) => progress.Report((double)value / frames);
    }

    private sealed class Share(IProgress<double> progress, int done, int of) : IProgress<double>
    {
        public void Report(double value) => progress.Report((done + value) / of);
    }

    /// <summary>Bars that are composed once, although the length, the mix and every stem request them.</summary>
    private sealed class KeptBars(IBarSource source) : IBarSource
    {
        private readonly ConcurrentDictionary<int, Bar> _bars = [];

        public int First => source.First;

        public int? End => source.End;

        public IReadOnlyList<PartChannels> Band => source.Band;

        public PieceHeading Heading => source.Heading;

        public static KeptBars Of(IBarSource source)
        {
            EndOf(source);
            return new KeptBars(source);
        }

        public static int EndOf(IBarSource source) =>
            source.End ?? throw new ArgumentException("Music without an end cannot be rendered; give a number of bars.", nameof(source));

        public Bar BarAt(int index) => _bars.GetOrAdd(index, source.BarAt);
    }
}
