using System.Globalization;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Performance;

/// <summary>What a log belongs to: without the same chart and random seed it cannot be played again.</summary>
/// <param name="Chart">The chart's title.</param>
/// <param name="Fingerprint">What tells the chart's text from any other, such as a hash; a word without blanks.</param>
/// <param name="Seed">The random seed.</param>
public sealed record LogHeader(string Chart, string Fingerprint, ulong Seed);

/// <summary>A line of the log.</summary>
public abstract record LogRecord;

/// <summary>A change was asked for at a place.</summary>
/// <param name="Words">The change in words.</param>
/// <param name="Place">The place.</param>
public sealed record AskedRecord(string Words, PerformancePlace Place) : LogRecord;

/// <summary>A setting of the mix or the speed took effect on a frame.</summary>
/// <param name="Frame">The sample frame.</param>
/// <param name="Setting">The setting.</param>
public sealed record ObeyedRecord(long Frame, MixSetting Setting) : LogRecord;

/// <summary>Other bars were taken over: on a frame, from a bar of the performance on, beginning with a bar, as of so many changes asked for.</summary>
/// <param name="Frame">The sample frame.</param>
/// <param name="Ordinal">The bar of the performance.</param>
/// <param name="From">The bar's number in the form.</param>
/// <param name="Asked">How many changes had been asked for.</param>
public sealed record TakenRecord(long Frame, int Ordinal, int From, int Asked) : LogRecord;

/// <summary>A line of a kind that this version does not know: kept as it is and not played.</summary>
/// <param name="Line">The line.</param>
public sealed record OtherRecord(string Line) : LogRecord;

/// <summary>What a setting of the mix or the speed changes.</summary>
public enum MixSettingKind
{
    /// <summary>A part's level, in dB.</summary>
    PartLevel,

    /// <summary>A part's place from left (-100) to right (100).</summary>
    PartPan,

    /// <summary>Whether a part is muted: 1 or 0.</summary>
    PartMute,

    /// <summary>The overall level, in dB.</summary>
    MasterLevel,

    /// <summary>The speed, 1 as written.</summary>
    Speed,

    /// <summary>The end, with a fade of so many seconds.</summary>
    Stop,
}

/// <summary>A setting of the mix or the speed: what takes effect at once, without other bars.</summary>
/// <param name="Kind">What it changes.</param>
/// <param name="Part">The part's index in the band that plays, where a part is meant; else 0.</param>
/// <param name="Value">The value, in the unit of its kind; 0 for a speed.</param>
/// <param name="Ratio">The speed; else 0.</param>
public readonly record struct MixSetting(MixSettingKind Kind, int Part, double Value, Rational Ratio);

/// <summary>
/// Everything that made a performance what it was, beside its chart: with it the same samples come out again. Text, one record a line; a torn
/// last line, as a crash leaves it, is dropped when it is read.
/// </summary>
/// <remarks>One thread writes it. Lines of kinds that are not known yet are kept, so that later versions can add some.</remarks>
public sealed class PerformanceLog
{
    /// <summary>The version of the format.</summary>
    public const int Format = 1;

    private const string FirstWord = "performance-log";

    private readonly List<LogRecord> _records = [];
    private readonly Action<string>? _written;

    /// <summary>Begins a log.</summary>
    /// <param name="header">What it belongs to.</param>
    /// <param name="written">Takes each line with its line break as soon as it is there, the header's first; null for nobody.</param>
    public PerformanceLog(LogHeader header, Action<string>? written = null)
    {
        Header = header;
        _written = written;
        written?.Invoke(Head);
    }

    /// <summary>What it belongs to.</summary>
    public LogHeader Header { get; }

    /// <summary>The records, in order.</summary>
    public IReadOnlyList<LogRecord> Records => _records;

    /// <summary>How many changes were asked for.</summary>
    public int Asked { get; private set; }

    private string Head => string.Create(
        CultureInfo.InvariantCulture,
        $"{FirstWord} {Format}\nchart {Header.Fingerprint} {OneLine(Header.Chart)}\nseed {Header.Seed}\n");

    /// <summary>Adds a record.</summary>
    public void Add(LogRecord record)
    {
        _records.Add(record);
        Asked += record is AskedRecord ? 1 : 0;
        _written?.Invoke(Text(record) + "\n");
    }

    /// <summary>The log as text.</summary>
    public string Write() => Head + string.Concat(_records.Select(record => Text(record) + "\n"));

    /// <summary>Reads a text that <see cref="Write"/> wrote, whole or cut short.</summary>
    /// <exception cref="FormatException">It is another text, of a later format, or damaged before its last line; the message names the line.</exception>
    public static PerformanceLog Read(string text)
    {
        var lines = text.Split('\n');
        var head = lines.Take(3).Select(line => line.TrimEnd('\r').Split(' ', 3)).ToList();
        if (head.Count < 3 || lines.Length < 4 || head[0] is not [FirstWord, var version] || head[1] is not ["chart", var fingerprint, var chart]
            || head[2] is not ["seed", var number] || !ulong.TryParse(number, NumberStyles.None, CultureInfo.InvariantCulture, out var seed))
        {
            throw new FormatException($"this is not a log of a performance; its first line is '{FirstWord} {Format}'");
        }

        if (version != Format.ToString(CultureInfo.InvariantCulture))
        {
            throw new FormatException($"the log has format {version}; format {Format} can be read");
        }

        var log = new PerformanceLog(new LogHeader(chart, fingerprint, seed));

        // What stands after the last line break is a line that was not finished.
        for (var i = head.Count; i < lines.Length - 1; i++)
        {
            var line = lines[i].TrimEnd('\r');
            if (line.Length > 0)
            {
                log.Add(Record(line, i + 1));
            }
        }

        return log;
    }

    private static string OneLine(string text) => string.Concat(text.Select(c => char.IsControl(c) ? ' ' : c));

    private static string Text(LogRecord record) => record switch
    {
        AskedRecord asked => string.Create(
            CultureInfo.InvariantCulture, $"ask {asked.Place.Ordinal} {asked.Place.Index} {asked.Place.Next} {OneLine(asked.Words)}"),
        ObeyedRecord obeyed => string.Create(
            CultureInfo.InvariantCulture,
            $"obey {obeyed.Frame} {obeyed.Setting.Kind} {obeyed.Setting.Part} {obeyed.Setting.Value:R} {obeyed.Setting.Ratio}"),
        TakenRecord taken => string.Create(CultureInfo.InvariantCulture, $"take {taken.Frame} {taken.Ordinal} {taken.From} {taken.Asked}"),
        OtherRecord other => other.Line,
        _ => throw new InvalidOperationException("A record of an unknown kind."),
    };

    private static LogRecord Record(string text, int number)
    {
        var words = text.Split(' ');
        int Whole(int at) => int.Parse(words[at], CultureInfo.InvariantCulture);
        long Frame() => long.Parse(words[1], CultureInfo.InvariantCulture);
        try
        {
            return words[0] switch
            {
                "ask" => new AskedRecord(string.Join(' ', words[4..]), new PerformancePlace(Whole(1), Whole(2), Whole(3))),
                "obey" => new ObeyedRecord(
                    Frame(),
                    new MixSetting(
                        Enum.Parse<MixSettingKind>(words[2]),
                        Whole(3),
                        double.Parse(words[4], CultureInfo.InvariantCulture),
                        Rational.TryParse(words[5], out var ratio) ? ratio : throw new FormatException("the speed is not a fraction"))),
                "take" => new TakenRecord(Frame(), Whole(2), Whole(3), Whole(4)),
                _ => new OtherRecord(text),
            };
        }
        catch (Exception wrong) when (wrong is IndexOutOfRangeException or ArgumentException or OverflowException or FormatException)
        {
            throw new FormatException($"line {number} of the log is damaged: '{text}'", wrong);
        }
    }
}
