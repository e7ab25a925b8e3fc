using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Performance;

namespace GrooveLab.Audio.Conducting;

/// <summary>Replays a logged performance offline. The samples are those of the performance, whatever the read sizes. If the state was played
/// again after its end or a stop, the performances follow one another, without the silence between them.</summary>
public static class LogReplay
{
    private const int PieceFrames = 4096;

    /// <summary>Replays it.</summary>
    /// <param name="log">The log.</param>
    /// <param name="state">The state at its start (<see cref="PerformanceLog.Opening"/>).</param>
    /// <param name="synth">Creates a synthesizer like the one that played.</param>
    /// <param name="options">The engine's settings of the performance.</param>
    /// <param name="frames">The number of frames.</param>
    /// <param name="hear">Receives the sound block by block: interleaved stereo.</param>
    /// <param name="read">Reads a chart that the log contains, with its name; needed only for a log with a
    /// <see cref="RecalledRecord"/>.</param>
    /// <exception cref="ArgumentException">The log contains a chart, and nothing reads it.</exception>
    /// <exception cref="ChangeRefusedException">A change of the log cannot be made, because the state differs.</exception>
    public static void Play(
        PerformanceLog log, PerformanceState state, Func<PerformanceHistory, ISoundFontSynth> synth, EngineOptions options, long frames, Action<ReadOnlySpan<float>> hear,
        Func<RecalledRecord, Chart>? read = null)
    {
        var history = new PerformanceHistory(state) { IsReplay = true };
        var player = new OfflinePlayer(history.Route, synth(history), options, limited: false);
        var routes = new Dictionary<int, PerformanceRoute> { [0] = history.Route };
        var asked = 0;
        var piece = new float[2 * PieceFrames];
        long at = 0;
        foreach (var record in log.Records)
        {
            switch (record)
            {
                case AskedRecord ask:
                    history.Do(ask.Words, ask.Place);
                    routes[++asked] = history.Route;
                    break;
                case RecalledRecord recalled:
                    var chart = read is not null ? read(recalled) : throw new ArgumentException("The log contains a chart; it needs a reader.", nameof(read));
                    history.Remember(recalled.Name, PerformanceState.Opening(chart, state.Instruments), recalled.Text);
                    break;
                case ObeyedRecord obeyed:
                    ReadTo(obeyed.Frame);
                    player.Engine.Post(EngineCommand.Of(obeyed.Setting));
                    break;
                case TakenRecord taken:
                    ReadTo(taken.Frame);
                    player.Bars.GoAt(routes[taken.Asked] with { From = taken.From }, taken.Ordinal);
                    foreach (var old in routes.Keys.Where(number => number < taken.Asked).ToList())
                    {
                        routes.Remove(old);
                    }

                    break;
                case AgainRecord again:
                    ReadTo(again.Frame);
                    (frames, at) = (frames - at, 0);
                    history.PlayAgain(again.Start);
                    player = new OfflinePlayer(history.Route, synth(history), options, limited: false);
                    routes = new Dictionary<int, PerformanceRoute> { [asked] = history.Route };
                    break;
            }
        }

        ReadTo(frames);

        void ReadTo(long frame)
        {
            while (at < Math.Min(frame, frames))
            {
                var count = (int)Math.Min(PieceFrames, Math.Min(frame, frames) - at);
                var read = player.Read(piece.AsSpan(0, 2 * count));
                if (read == 0)
                {
                    return;
                }

                hear(piece.AsSpan(0, read));
                at += read / 2;
                while (player.Engine.TryTakeReport(out _))
                {
                    // Nothing else reads them here, and the ring must not fill.
                }
            }
        }
    }
}
