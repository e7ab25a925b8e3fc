namespace GrooveLab.Audio.Failures;

/// <summary>
/// Collects the failures that were caught, so that each leaves a trace: every kind once, with its first message, its place and a count. It keeps a
/// bounded number of kinds and no exception objects, so it does not grow however often something fails.
/// </summary>
/// <remarks>From any thread except the audio thread. No member throws.</remarks>
public sealed class FailureLog
{
    private const int MostKinds = 32;
    private const int LongestMessage = 300;
    private const int LongestDetails = 4000;

    private readonly Lock _gate = new();
    private readonly List<CaughtFailure> _failures = [];
    private IReadOnlyList<CaughtFailure> _all = [];
    private long _total;

    /// <summary>The failures, each kind once, in the order in which they first happened.</summary>
    public IReadOnlyList<CaughtFailure> All => Volatile.Read(ref _all);

    /// <summary>The number of failures so far; it grows with every failure.</summary>
    public long Total => Interlocked.Read(ref _total);

    /// <summary>Marks the failures of a task as over, because it works again. They stay in the log.</summary>
    /// <param name="doing">What the program was doing.</param>
    public void Settle(string doing)
    {
        lock (_gate)
        {
            if (_failures.Exists(failure => failure.Doing == doing && !failure.IsOver))
            {
                for (var i = 0; i < _failures.Count; i++)
                {
                    _failures[i] = _failures[i].Doing == doing ? _failures[i] with { IsOver = true } : _failures[i];
                }

                Volatile.Write(ref _all, [.. _failures]);
            }
        }
    }

    /// <summary>Records an exception that was caught.</summary>
    /// <param name="doing">What the program was doing: "composing a bar".</param>
    /// <param name="failure">The exception.</param>
    /// <param name="times">How often it was thrown, 1 or more.</param>
    public void Add(string doing, Exception failure, long times = 1)
    {
        var (message, details) = Texts(failure);
        Add(new CaughtFailure(doing, failure.GetType().Name, message, PlaceIn(details), details, times));
    }

    /// <summary>Records a failure without an exception.</summary>
    /// <param name="doing">What the program was doing.</param>
    /// <param name="message">What went wrong.</param>
    public void Add(string doing, string message) =>
        Add(new CaughtFailure(doing, string.Empty, OneLine(message), string.Empty, message, 1));

    private void Add(CaughtFailure failure)
    {
        lock (_gate)
        {
            // Messages of the same place may differ in their numbers; without a place, only the message distinguishes failures.
            var at = _failures.FindIndex(other => other.Doing == failure.Doing && other.Kind == failure.Kind && other.Place == failure.Place
                && (failure.Place.Length > 0 || other.Message == failure.Message));
            if (at < 0 && _failures.Count == MostKinds)
            {
                // The last entry also counts every kind that has no room.
                at = MostKinds - 1;
            }

            if (at < 0)
            {
                _failures.Add(failure);
            }
            else
            {
                _failures[at] = _failures[at] with { Count = _failures[at].Count + failure.Count, IsOver = false };
            }

            Volatile.Write(ref _all, [.. _failures]);
            Interlocked.Add(ref _total, failure.Count);
        }
    }

    /// <summary>The message of an exception, on one line; its type if the message is empty or itself throws.</summary>
    public static string MessageOf(Exception failure) => Texts(failure).Message;

    private static (string Message, string Details) Texts(Exception failure)
    {
        var kind = failure.GetType().Name;
        try
        {
            var details = failure.ToString();
            var message = OneLine(failure.Message);
            return (message.Length > 0 ? message : kind, details.Length > LongestDetails ? details[..LongestDetails] : details);
        }
#pragma warning disable CA1031 // Reading the message of an exception may itself throw; then its type is used instead.
        catch (Exception)
#pragma warning restore CA1031
        {
            return (kind, kind);
        }
    }

    // The first line of the stack: "   at GrooveLab.Music.Ensemble.BassWriter.Write(Bar bar) in ...".
    private static string PlaceIn(string details)
    {
        const string at = "   at ";
        foreach (var line in details.AsSpan().EnumerateLines())
        {
            if (line.StartsWith(at, StringComparison.Ordinal))
            {
                var rest = line[at.Length..];
                var end = rest.IndexOf('(');
                return (end < 0 ? rest : rest[..end]).ToString();
            }
        }

        return string.Empty;
    }

    private static string OneLine(string text)
    {
        var line = string.Concat(text.Select(letter => char.IsControl(letter) ? ' ' : letter)).Trim();
        return line.Length > LongestMessage ? line[..LongestMessage] : line;
    }
}
