using GrooveLab.Inputs;
using GrooveLab.Music.Performance;
using GrooveLab.Store;

namespace GrooveLab.Screen;

/// <summary>
/// The performances of the screen, one after another: it opens a chart or the songs of a set on another thread while the current one plays on,
/// prepares the next song, and goes over. Independent of the terminal; for one thread.
/// </summary>
internal sealed class Stage
{
    private readonly PerformanceOptions _options;
    private readonly ScreenKeys _keys;
    private readonly SetList? _set;
    private Coming? _coming;
    private Coming? _ahead;
    private int _triedAhead = -1;
    private Task<IReadOnlyList<(int Index, SetSong Song)>>? _repaired;
    private double _lookedForRepairs = double.NegativeInfinity;
    private int _song;
    private Task _leaving = Task.CompletedTask;

    private const double RepairSeconds = 1;

    /// <param name="options">How to play; with a set, without a chart.</param>
    /// <param name="set">The songs to play; null for the chart of the options.</param>
    /// <param name="keys">Shows the performance and asks for others.</param>
    public Stage(PerformanceOptions options, SetList? set, ScreenKeys keys)
    {
        (_options, _set, _keys) = (options, set, keys);
        keys.Set = set;
    }

    /// <summary>The current performance; null before the first.</summary>
    public LivePerformance? Performance { get; private set; }

    /// <summary>Completes when the performances before are over.</summary>
    public Task Leaving => _leaving;

    /// <summary>Whether the next song of the set is prepared.</summary>
    public bool IsNextReady => _ahead is { Performance.IsCompletedSuccessfully: true };

    /// <summary>Whether the preparation of the next song of the set is over, well or not.</summary>
    public bool IsNextTried => _ahead is { Performance.IsCompleted: true };

    /// <summary>Opens, goes over and prepares; call it often.</summary>
    /// <param name="now">The time, in seconds.</param>
    /// <exception cref="CommandFailure">The first chart cannot be played.</exception>
    public void Turn(double now)
    {
        if (Performance is null && _coming is null)
        {
            // A set waits for the player; a single chart starts at once.
            var first = _set?.After(-1, 1);
            _coming = new Coming(Opening(first is { } song ? OptionsOf(song) : _options), first, first is null);
        }

        if (_coming is { Performance.IsCompleted: true } ready)
        {
            _coming = null;
            GoOver(ready, now);
        }

        if (Performance?.Turn() is { } failed)
        {
            _keys.Say(failed, warns: true, now);
        }

        if (Performance is not null)
        {
            Obey(now);
            SeeRepairs(now);
            LookAhead();
        }
    }

    /// <summary>Keeps unsaved changes, and ends all performances.</summary>
    /// <param name="surviving">Runs a step whose failure must not prevent the next ones.</param>
    public void End(Action<string, Action> surviving)
    {
        foreach (var unneeded in new[] { _coming, _ahead })
        {
            Abandon(unneeded);
        }

        surviving("stopping the music", () => Performance?.Stop());
        surviving("stopping the music", () => _leaving.Wait());
        surviving("closing the sound", () => Performance?.Dispose());
    }

    private static void Abandon(Coming? coming)
    {
        _ = coming?.Performance.ContinueWith(
            opened =>
            {
                if (opened.IsCompletedSuccessfully)
                {
                    opened.Result.Dispose();
                }
                else
                {
                    // A chart that is no longer wanted may be wrong.
                    _ = opened.Exception;
                }
            },
            TaskScheduler.Default);
    }

    private Task<LivePerformance> Opening(PerformanceOptions options)
    {
        var bank = Performance is { Bank.IsCompletedSuccessfully: true } current && current.Options.Bank == options.Bank ? current.Bank : null;
        return Task.Run(() => LivePerformance.Open(options with { ReadBank = bank }));
    }

    // What was prepared, or the chart read again if its file was edited or repaired since.
    private async Task<LivePerformance> UpToDate(Task<LivePerformance> prepared, PerformanceOptions options)
    {
        try
        {
            var performance = await prepared.ConfigureAwait(false);
            if (!await Task.Run(() => performance.IsEditedElsewhere).ConfigureAwait(false))
            {
                return performance;
            }

            performance.Dispose();
        }
        catch (Exception failure) when (failure is CommandFailure or FormatException or IOException or UnauthorizedAccessException)
        {
            // Opened again, it may be whole by now; otherwise that says what is wrong.
        }

        return await Opening(options).ConfigureAwait(false);
    }

    // A song that could not be played is read again now and then, because it may have been repaired.
    private void SeeRepairs(double now)
    {
        if (_set is not { } set)
        {
            return;
        }

        if (_repaired is { IsCompleted: true } read)
        {
            _repaired = null;
            foreach (var (index, song) in read.IsCompletedSuccessfully ? read.Result : [])
            {
                set.Replace(index, song);
                _triedAhead = -1;
            }
        }

        // Time may be the same in every turn; then one look is enough.
        if (_repaired is null && now - _lookedForRepairs >= RepairSeconds)
        {
            _lookedForRepairs = now;
            List<(int Index, SetSong Song)> broken = [.. set.Songs.Select((song, index) => (index, song)).Where(entry => !entry.song.IsPlayable)];
            _repaired = broken.Count == 0 ? null
                : Task.Run<IReadOnlyList<(int Index, SetSong Song)>>(() =>
                [
                    .. broken.Select(entry => (entry.Index, Was: entry.Song, Song: SetList.Again(entry.Song)))
                        .Where(entry => !entry.Song.Problems.SequenceEqual(entry.Was.Problems)).Select(entry => (entry.Index, entry.Song)),
                ]);
        }
    }

    private PerformanceOptions OptionsOf(int song)
    {
        var path = _set!.Songs[song].Path;
        return ChartFiles.Preset(path) is { } preset
            ? _options with { Path = null, BuiltIn = (Exchange.Charts.PresetCharts.FileName(path), preset) }
            : _options with { Path = path, BuiltIn = null };
    }

    private void Obey(double now)
    {
        var (request, song) = (_keys.Request, _keys.SongToPlay);
        if (request is not (ScreenRequest.Open or ScreenRequest.Song))
        {
            return;
        }

        _keys.Request = ScreenRequest.None;
        if (_coming is not null && (request == ScreenRequest.Open || _coming.Song == song))
        {
            _keys.Say("opening the other chart; a moment", warns: false, now);
            return;
        }

        // So that they are offered when the same chart is opened again.
        if (!Performance!.KeepNow())
        {
            _keys.Say("not opened: the unsaved changes could not be kept for the next start; save or undo them first", warns: true, now);
            return;
        }

        Abandon(_coming);
        if (request == ScreenRequest.Open)
        {
            // A band that does not play stays silent.
            var options = _options with
            {
                Path = _keys.ChartToOpen,
                BuiltIn = null,
                Start = new StartOptions { CountIn = _options.Start.CountIn, Ends = _options.Start.Ends },
            };
            _coming = new Coming(Opening(options), null, Starts: Performance.Standing is Standing.Playing or Standing.Starting);
        }
        else if (_ahead is { } ahead && ahead.Song == song)
        {
            _ahead = null;
            _coming = ahead with { Performance = UpToDate(ahead.Performance, OptionsOf(song)) };
        }
        else
        {
            _coming = new Coming(Opening(OptionsOf(song)), song, Starts: false);
        }
    }

    private void GoOver(Coming coming, double now)
    {
        LivePerformance next;
        try
        {
            next = coming.Performance.GetAwaiter().GetResult();
        }
        catch (CommandFailure problem)
        {
            Refuse(coming, problem.Message.ReplaceLineEndings(" "), now, problem);
            return;
        }
#pragma warning disable CA1031 // The current chart plays on; the failure is shown and recorded.
        catch (Exception failure) when (Performance is not null || _set is not null)
#pragma warning restore CA1031
        {
            Survived.Failures.Add("opening a chart", failure);
            Refuse(coming, failure.Message.ReplaceLineEndings(" "), now, failure);
            return;
        }

        var old = Performance;
        var keeps = old is { IsUnsaved: true } ? $"unsaved changes of {old.Conductor.State.Chart.Title} are kept; opening it again offers them" : null;
        Performance = next;
        _song = coming.Song ?? _song;
        _triedAhead = -1;
        if (coming.Song is { } at && _set!.Songs[at] is var listed && listed.Title != next.Conductor.State.Chart.Title)
        {
            _set.Replace(at, listed with { Title = next.Conductor.State.Chart.Title, Problems = [] });
        }

        if (old is not null)
        {
            var before = _leaving;
            _leaving = Task.Run(async () =>
            {
                await before.ConfigureAwait(false);
                Leave(old);
            });
        }

        _keys.Show(next, coming.Song);
        var news = string.Join("; ", new[] { next.Offer, keeps, old is null ? next.BankWarning : null }.OfType<string>());
        if (old is null && _set is { Problems.Count: > 0 } set)
        {
            _keys.Say(
                _keys.InBrief(set),
                warns: true,
                double.PositiveInfinity);
        }
        else if (news.Length > 0)
        {
            _keys.Say(news, warns: next.Offer is null && keeps is null, now + 10);
        }
        else if (coming.Starts)
        {
            _keys.Say(FormInWords(next), warns: false, now);
        }

        if (coming.Starts || next.Options.Midi?.Follower is not null)
        {
            next.Start(_leaving);
        }
    }

    private void Refuse(Coming coming, string why, double now, Exception failure)
    {
        if (Performance is not null)
        {
            _keys.Say(coming.Song is { } song ? $"{_set!.Songs[song].Title} cannot be played: {why}" : why, warns: true, now);
        }
        else if (coming.Song is { } first && _set!.After(first, 1) is { } following)
        {
            _coming = new Coming(Opening(OptionsOf(following)), following, Starts: false);
        }
        else
        {
            System.Runtime.ExceptionServices.ExceptionDispatchInfo.Capture(failure).Throw();
        }
    }

    // The next song of the set: its chart is read, and its sounds and first bars are prepared.
    private void LookAhead()
    {
        if (_set is null || _coming is not null || _triedAhead == _song || Performance!.Standing == Standing.Starting)
        {
            return;
        }

        _triedAhead = _song;
        var next = _set.After(_song, 1);
        if (_ahead is not null && _ahead.Song != next)
        {
            Abandon(_ahead);
            _ahead = null;
        }

        if (_ahead is null && next is { } song && !IsCurrent(_set.Songs[song].Path))
        {
            _ahead = new Coming(Opening(OptionsOf(song)), song, Starts: false);
        }
    }

    // Twice the same chart: the second opens when the first is left, so that it has its changes.
    private bool IsCurrent(string path) => Performance!.Options.Path is { } current && Path.GetFullPath(current) == Path.GetFullPath(path);

    private static void Leave(LivePerformance old)
    {
        foreach (var step in new Action[] { old.Stop, old.Dispose })
        {
            try
            {
                step();
            }
#pragma warning disable CA1031 // The next chart is on the screen; the failure is recorded.
            catch (Exception failure)
#pragma warning restore CA1031
            {
                Survived.Failures.Add("leaving a chart", failure);
            }
        }
    }

    /// <summary>Whether the form ends by itself, in words.</summary>
    internal static string FormInWords(IScreenPerformance performance)
    {
        var state = performance.Conductor.State;
        return state.Orders switch
        {
            { EndBar: { } bars } => $"plays {bars} bars, then ends",
            { Passes: { } times } => $"plays the form {(times == 1 ? "once" : times == 2 ? "twice" : $"{times} times")}, then ends; 'round on' repeats it",
            _ => "repeats the form until last-time; 'round off' ends it",
        };
    }

    private sealed record Coming(Task<LivePerformance> Performance, int? Song, bool Starts);
}
