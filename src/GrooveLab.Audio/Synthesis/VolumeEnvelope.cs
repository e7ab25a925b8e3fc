using System.Runtime.CompilerServices;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// The volume envelope: attack linear in amplitude, decay and release linear in decibels (SoundFont 2.04, 8.1.3, generators 33-38).
/// It counts whole frames from the start of the stage, so its value at a frame does not depend on the steps that led there.
/// </summary>
internal struct VolumeEnvelope
{
    private const int Endless = int.MaxValue;

    private EnvelopeTimes _times;
    private float _sustainCentibels;
    private float _sustainAmplitude;
    private float _startCentibels;
    private float _centibelsPerFrame;
    private int _elapsed;
    private int _length;

    public EnvelopeStage Stage { get; private set; }

    /// <summary>Frames left in this stage.</summary>
    public readonly int FramesLeft => _length == Endless ? Endless : _length - _elapsed;

    /// <summary>Frames from the start to full level, with the attack limited; at least one.</summary>
    public readonly int FramesToFull(int mostOfAttack) => _times.Delay + Math.Clamp(_times.Attack, 1, mostOfAttack);

    /// <summary>Whether only silence can follow.</summary>
    public readonly bool IsFallingSilent =>
        Stage == EnvelopeStage.Release || (Stage == EnvelopeStage.Decay && _sustainCentibels >= Units.SilenceCentibels);

    /// <summary>Starts at key-on.</summary>
    [MethodImpl(HotCode.Compiled)]
    public void Start(in EnvelopeTimes times, float sustainCentibels)
    {
        Configure(times, sustainCentibels);
        Enter(EnvelopeStage.Delay, times.Delay);
        SkipFinishedStages();
    }

    /// <summary>Sets new times; the current stage keeps its own.</summary>
    public void Configure(in EnvelopeTimes times, float sustainCentibels)
    {
        _times = times;
        _sustainCentibels = sustainCentibels;
    }

    /// <summary>The amplitude factor some frames ahead, up to the end of this stage.</summary>
    [MethodImpl(HotCode.Compiled)]
    public readonly float Amplitude(int ahead)
    {
        var at = _elapsed + ahead;
        return Stage switch
        {
            EnvelopeStage.Attack => (float)at / _length,
            EnvelopeStage.Hold => 1,
            EnvelopeStage.Sustain => _sustainAmplitude,
            EnvelopeStage.Decay or EnvelopeStage.Release =>
                Units.Amplitude(_startCentibels + (_centibelsPerFrame * at)),
            _ => 0,
        };
    }

    [MethodImpl(HotCode.Compiled)]
    public void Advance(int frames)
    {
        if (_length == Endless)
            return;
        _elapsed += frames;
        SkipFinishedStages();
    }

    /// <summary>Enters the release stage from the current level.</summary>
    [MethodImpl(HotCode.Compiled)]
    public void Release()
    {
        if (Stage is EnvelopeStage.Release or EnvelopeStage.Finished)
            return;
        var amplitude = Amplitude(0);
        if (amplitude <= 0)
        {
            Enter(EnvelopeStage.Finished, Endless);
            return;
        }
        Fall(EnvelopeStage.Release, Units.Centibels(amplitude), Units.SilenceCentibels, _times.Release);
        SkipFinishedStages();
    }

    [MethodImpl(HotCode.Compiled)]
    private void SkipFinishedStages()
    {
        while (_length != Endless && _elapsed >= _length)
        {
            switch (Stage)
            {
                case EnvelopeStage.Delay:
                    Enter(EnvelopeStage.Attack, _times.Attack);
                    break;
                case EnvelopeStage.Attack:
                    Enter(EnvelopeStage.Hold, _times.Hold);
                    break;
                case EnvelopeStage.Hold:
                    Fall(EnvelopeStage.Decay, 0, Math.Min(_sustainCentibels, Units.SilenceCentibels), _times.Decay);
                    break;
                case EnvelopeStage.Decay when _sustainCentibels < Units.SilenceCentibels:
                    Enter(EnvelopeStage.Sustain, Endless);
                    _sustainAmplitude = Units.Amplitude(_sustainCentibels);
                    break;
                default:
                    Enter(EnvelopeStage.Finished, Endless);
                    break;
            }
        }
    }

    private void Fall(EnvelopeStage stage, float from, float to, int framesForAll)
    {
        _startCentibels = from;
        _centibelsPerFrame = Units.SilenceCentibels / Math.Max(1, framesForAll);
        Enter(stage, to <= from ? 0 : (int)MathF.Ceiling((to - from) / _centibelsPerFrame));
    }

    private void Enter(EnvelopeStage stage, int length)
    {
        Stage = stage;
        _elapsed = 0;
        _length = length;
    }
}
