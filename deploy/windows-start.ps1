# filmhand by the task scheduler of Windows: it starts with the computer, without anybody signed in, and again a minute after it ended.
# What is the same there, what is not, and what was never tried: docs/operations.md. Run it once, as an administrator:
#
#   powershell -ExecutionPolicy Bypass -File windows-start.ps1 -Shop D:\shop -Program C:\filmhand\Scripts\filmhand.exe -User filmhand
#
# -User is a plain account that may change the shop's folder and nothing else; its password is asked for.
param(
    [Parameter(Mandatory)] [string] $Shop,
    [Parameter(Mandatory)] [string] $Program,
    [Parameter(Mandatory)] [string] $User,
    [string] $Name = 'filmhand'
)
$ErrorActionPreference = 'Stop'

if (-not (Test-Path -LiteralPath (Join-Path $Shop 'shop.toml') -PathType Leaf)) { throw "There is no shop in $Shop." }
if (-not (Test-Path -LiteralPath $Program -PathType Leaf)) { throw "There is no program $Program." }
if ($Shop.StartsWith('\\')) { throw "The shop must lie on a disk of this computer, for its journal's sake; hot folders may be shares." }

$action = New-ScheduledTaskAction -Execute $Program -Argument "run `"$Shop`"" -WorkingDirectory $Shop
$atStart = New-ScheduledTaskTrigger -AtStartup
# A daemon that ended, whatever the reason, is there again a minute later: while it runs, a new start is ignored.
$again = New-ScheduledTaskTrigger -Once -At (Get-Date).Date -RepetitionInterval (New-TimeSpan -Minutes 1)
$settings = New-ScheduledTaskSettingsSet -MultipleInstances IgnoreNew -ExecutionTimeLimit ([TimeSpan]::Zero) `
    -AllowStartIfOnBatteries -DontStopIfGoingOnBatteries -StartWhenAvailable
$password = (Get-Credential -UserName $User -Message "The account that filmhand runs as").GetNetworkCredential().Password

Register-ScheduledTask -TaskName $Name -Action $action -Trigger $atStart, $again -Settings $settings `
    -User $User -Password $password -RunLevel Limited -Force | Out-Null
Start-ScheduledTask -TaskName $Name
Write-Output "filmhand starts with this computer. Look at it: Get-ScheduledTaskInfo $Name; filmhand doctor `"$Shop`""
