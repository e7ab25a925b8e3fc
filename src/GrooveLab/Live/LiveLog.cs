using System.Globalization;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Music.Time;

namespace GrooveLab.Live;

/// <summary>A line of the log.</summary>
internal abstract record LiveLogLine;

/// <summary>A change was asked for, in words, at a place.</summary>
internal sealed record AskedLine(string Words, LivePlace Place) : LiveLogLine;

/// <summary>The engine obeyed a command on a frame.</summary>
internal sealed record ObeyedLine(long Frame, EngineCommand Command) : LiveLogLine;

/// <summary>The engine took other bars: on a frame, from a bar of the performance on, beginning with that bar, as of that many changes asked for.</summary>
internal sealed record TakenLine(long Frame, int Ordinal, int From, int Asked) : LiveLogLine;

/// <summary>
/// Everything that made a performance what it was, beside the chart: with it the same samples come out again. Text, a line each.
/// </summary>
internal sealed class LiveLog
{
    private readonly List<LiveLogLine> _lines = [];

    /// <summary>The lines, in order.</summary>
    public IReadOnlyList<LiveLogLine> Lines => _lines;

    /// <summary>How many changes were asked for.</summary>
    public int Asked { get; private set; }

    /// <summary>Adds a line.</summary>
    public void Add(LiveLogLine line)
    {
        _lines.Add(line);
        Asked += line is AskedLine ? 1 : 0;
    }

    /// <summary>The log as text.</summary>
    public string Write() => string.Concat(_lines.Select(line => Text(line) + "\n"));

    /// <summary>Reads a text that <see cref="Write"/> wrote.</summary>
    /// <exception cref="FormatException">It is another text.</exception>
    public static LiveLog Read(string text)
    {
        var log = new LiveLog();
        foreach (var line in text.Split('\n', StringSplitOptions.RemoveEmptyEntries))
        {
            log.Add(Line(line.TrimEnd('\r')));
        }

        return log;
    }

    /// <summary>
    /// Plays the performance again, offline: whatever size the pieces are read in, the samples are those of the performance.
    /// </summary>
    /// <param name="state">The state it began with.</param>
    /// <param name="synth">A synthesizer like the one that played.</param>
    /// <param name="options">The engine's set-up, as it was.</param>
    /// <param name="frames">How many frames.</param>
    /// <param name="hear">Is given what was played, piece by piece: interleaved stereo.</param>
    public void Replay(LiveState state, ISoundFontSynth synth, EngineOptions options, long frames, Action<ReadOnlySpan<float>> hear)
    {
        var history = new LiveHistory(state);
        var player = new OfflinePlayer(history.Route, synth, options, limited: false);
        var routes = new Dictionary<int, LiveRoute> { [0] = history.Route };
        var asked = 0;
        var piece = new float[2 * 4096];
        long at = 0;
        foreach (var line in _lines)
        {
            switch (line)
            {
                case AskedLine ask:
                    history.Do(ask.Words, ask.Place);
                    routes[++asked] = history.Route;
                    break;
                case ObeyedLine obeyed:
                    ReadTo(obeyed.Frame);
                    player.Engine.Post(obeyed.Command);
                    break;
                case TakenLine taken:
                    ReadTo(taken.Frame);
                    player.Bars.GoAt(routes[taken.Asked] with { From = taken.From }, taken.Ordinal);
                    foreach (var old in routes.Keys.Where(number => number < taken.Asked).ToList())
                    {
                        routes.Remove(old);
                    }

                    break;
            }
        }

        ReadTo(frames);

        void ReadTo(long frame)
        {
            while (at < Math.Min(frame, frames))
            {
                var count = (int)Math.Min(piece.Length / 2, Math.Min(frame, frames) - at);
                var read = player.Read(piece.AsSpan(0, 2 * count));
                if (read == 0)
                {
                    return;
                }

                hear(piece.AsSpan(0, read));
                at += read / 2;
                while (player.Engine.TryTakeReport(out _))
                {
                    // Nobody else takes them here, and the ring must not fill.
                }
            }
        }
    }

    private static string Text(LiveLogLine line) => line switch
    {
        AskedLine asked => string.Create(
            CultureInfo.InvariantCulture, $"ask {asked.Place.Ordinal} {asked.Place.Index} {asked.Place.Next} {asked.Words}"),
        ObeyedLine obeyed => string.Create(
            CultureInfo.InvariantCulture,
            $"obey {obeyed.Frame} {obeyed.Command.Kind} {obeyed.Command.Part} {obeyed.Command.Value:R} {obeyed.Command.Ratio}"),
        TakenLine taken => string.Create(CultureInfo.InvariantCulture, $"take {taken.Frame} {taken.Ordinal} {taken.From} {taken.Asked}"),
        _ => throw new InvalidOperationException("A line of an unknown kind."),
    };

    private static LiveLogLine Line(string text)
    {
        var words = text.Split(' ');
        int Whole(int at) => int.Parse(words[at], CultureInfo.InvariantCulture);
        long Frame() => long.Parse(words[1], CultureInfo.InvariantCulture);
        try
        {
            return words[0] switch
            {
                "ask" => new AskedLine(string.Join(' ', words[4..]), new LivePlace(Whole(1), Whole(2), Whole(3))),
                "obey" => new ObeyedLine(
                    Frame(),
                    new EngineCommand(
                        Enum.Parse<EngineCommandKind>(words[2]),
                        Whole(3),
                        double.Parse(words[4], CultureInfo.InvariantCulture),
                        Rational.TryParse(words[5], out var ratio) ? ratio : throw new FormatException($"'{words[5]}' is no fraction"))),
                "take" => new TakenLine(Frame(), Whole(2), Whole(3), Whole(4)),
                _ => throw new FormatException($"'{words[0]}' begins no line of a log"),
            };
        }
        catch (Exception wrong) when (wrong is IndexOutOfRangeException or ArgumentException or OverflowException)
        {
            throw new FormatException($"'{text}' is no line of a log", wrong);
        }
    }
}
